"""What the open page sounds for: repeated as the notices are, but seen by the process that serves the page."""

from pathlib import Path

from monitor.model import LOUDER, Event
from monitor.notifications.pending import PendingNotification, pending_notifications
from monitor.notifications.repeat import NotificationState, due_notices
from monitor.notifications.settings import NoticeSettings
from monitor.notifications.store import load_notice_settings, load_states, settings_stamp
from monitor.runtime import MonitorError
from monitor.session import Outlook
from monitor.storage import WatchedFolder


class PageAlerts:
    """The alerts of one cook's page.

    number: goes up with each alert. text: what the latest is about. unanswered: names of what is pending and nobody has
    answered. What the notices had told before this object was made is not alerted again.
    """

    def __init__(self, folder: Path, rig: str, cook: str) -> None:
        self._folder = folder
        self._place = WatchedFolder(folder)
        self._record: dict[str, NotificationState] = load_states(folder, rig, cook)
        self._settings = NoticeSettings()
        self._stamp: object = object()
        self._pending_of: tuple[Outlook, tuple[Event, ...]] | None = None
        self._pending: tuple[PendingNotification, ...] = ()
        self.number = 0
        self.text = ""
        self.unanswered: tuple[str, ...] = ()

    def look(self, outlook: Outlook, events: tuple[Event, ...], now: float, wall: float, pace: float) -> None:
        """Takes in this moment. now: cook time; wall: the wall clock; both in Unix seconds.

        pace: seconds of cook time in a real one.
        """
        if (outlook, events) != self._pending_of:
            self._pending_of = outlook, events
            self._pending = pending = pending_notifications(outlook, events)
            # Whoever answers that a stir is due has seen that it is overdue.
            self.unanswered = tuple(each.name for each in pending if not each.seen or each.name in LOUDER.values())
        if not self._pending and not self._record:
            return
        self._refresh_settings()
        self._record, notices = due_notices(
            self._record,
            self._pending,
            now,
            lambda name: self._settings.may_notify(name, wall),
            self._settings.repeat_after_s,
            pace,
        )
        if notices:
            self.number += 1
            self.text = " ".join(f"{notice.name[0].upper()}{notice.name[1:]}." for notice in notices)

    def _refresh_settings(self) -> None:
        stamp = settings_stamp(self._folder)
        if stamp == self._stamp or (stamp is None and self._place.is_away()):
            return
        self._stamp = stamp
        try:
            self._settings = load_notice_settings(self._folder)
        except MonitorError:
            # The notices say what is wrong with it; this process may also be one that is not to read it.
            self._settings = NoticeSettings()
