"""Notifies people of what is due or wrong: what is pending, when it repeats, quiet hours, channels."""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.notifications.dispatcher import Dispatcher
    from monitor.notifications.home_automation import HomeAutomation
    from monitor.notifications.notifier import Notifier, Publisher
    from monitor.notifications.page_alerts import PageAlerts
    from monitor.notifications.page_services import add_service, added_services, drop_service
    from monitor.notifications.run import RigNotifier, run_notifiers
    from monitor.notifications.self_test import run_self_test
    from monitor.notifications.settings import Service
    from monitor.notifications.store import load_notice_settings

__all__ = [
    "Dispatcher",
    "HomeAutomation",
    "Notifier",
    "PageAlerts",
    "Publisher",
    "RigNotifier",
    "Service",
    "add_service",
    "added_services",
    "drop_service",
    "load_notice_settings",
    "run_notifiers",
    "run_self_test",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "dispatcher": ("Dispatcher",),
            "home_automation": ("HomeAutomation",),
            "notifier": ("Notifier", "Publisher"),
            "page_alerts": ("PageAlerts",),
            "page_services": ("add_service", "added_services", "drop_service"),
            "run": ("RigNotifier", "run_notifiers"),
            "self_test": ("run_self_test",),
            "settings": ("Service",),
            "store": ("load_notice_settings",),
        },
    )
