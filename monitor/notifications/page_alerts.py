"""What the open page rings for: the same rounds as the notices keep, seen by the process that serves the page."""

from pathlib import Path

from monitor.estimation import Outlook
from monitor.model import LOUDER, Event
from monitor.notifications.pending import pending_notifications
from monitor.notifications.repeat import NotificationState, due_notices
from monitor.notifications.settings import NoticeSettings
from monitor.notifications.store import load_notice_settings, load_states, settings_stamp
from monitor.runtime import MonitorError
from monitor.storage import WatchedFolder


class PageAlerts:
    """Of one cook. number: goes up with each ring. words: what the latest is about. unanswered: names that stand.

    What the notices had told before this began is not rung for again.
    """

    def __init__(self, folder: Path, rig: str, cook: str) -> None:
        self._folder = folder
        self._place = WatchedFolder(folder)
        self._record: dict[str, NotificationState] = load_states(folder, rig, cook)
        self._settings = NoticeSettings()
        self._stamp: object = object()
        self.number = 0
        self.words = ""
        self.unanswered: tuple[str, ...] = ()

    def look(self, outlook: Outlook, events: tuple[Event, ...], now: float, wall: float, pace: float) -> None:
        """Takes in this moment. now: cook time; wall: the clock on the wall; Unix seconds. pace: see
        ``due_notices``."""
        self._refresh()
        standing = pending_notifications(outlook, events)
        self._record, notices = due_notices(
            self._record,
            standing,
            now,
            lambda name: self._settings.may_tell(name, wall),
            self._settings.again_after_s,
            pace,
        )
        if notices:
            self.number += 1
            self.words = " ".join(f"{notice.name[0].upper()}{notice.name[1:]}." for notice in notices)
        # Whoever answers that a stir is due has seen that it is overdue.
        self.unanswered = tuple(one.name for one in standing if not one.seen or one.name in LOUDER.values())

    def _refresh(self) -> None:
        stamp = settings_stamp(self._folder)
        if stamp == self._stamp or (stamp is None and self._place.is_away()):
            return
        self._stamp = stamp
        try:
            self._settings = load_notice_settings(self._folder)
        except MonitorError:
            # The notices say what is wrong with it; this process may also be one that is not to read it.
            self._settings = NoticeSettings()
