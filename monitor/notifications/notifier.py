"""Notifies a person of what is due and what is wrong with the cook of one rig, again and again until they answer.

The timers of its earlier batches ring too, while those rest.
"""

import json
from collections.abc import Callable
from typing import Protocol

from monitor.model import QUIET, clock_time
from monitor.notifications.channels.channel import Message
from monitor.notifications.dispatcher import Dispatcher
from monitor.notifications.earlier_part import EarlierPart
from monitor.notifications.home_automation import HomeAutomation
from monitor.notifications.pending import PendingNotification, pending_notifications
from monitor.notifications.repeat import Notice, NotificationState, due_notices
from monitor.notifications.resting_batches import RestingBatches
from monitor.notifications.store import NoticeFileError, load_states, logger_runs, save_states
from monitor.runtime import Clock, Level, Report
from monitor.session import Cook, CookLibrary, Outlook
from monitor.storage import RecordingError

PUBLISH_EVERY_S = 10.0
# A logger that died is started again sooner than this, and a disk that is busy answers sooner; real seconds.
QUIET_AFTER_S = 30.0
NO_LOGGER = "Nothing is being recorded, because no logger runs: look at the computer beside the cooker."


class Publisher(Protocol):
    """Publishes outlooks and notices over MQTT."""

    def tend(self) -> None:
        """Keeps the connection alive; called every few seconds."""
        ...

    def publish(self, topic: str, payload: str, *, retained: bool = False) -> None:
        """Sends a message now, or when the connection is back."""
        ...

    def close(self) -> None:
        """Closes the connection."""
        ...


class Notifier:
    """Follows the running cook of one rig and sends the notices that are due.

    write_line: takes one line for a person. dispatcher: the settings and the channels. publisher: publishes outlooks
    and notices over MQTT (interfaces, section 1), or None. report: takes what is wrong with the monitor itself.
    home_automation: shows the cook on a platform, or None.
    """

    def __init__(
        self,
        library: CookLibrary,
        rig: str,
        clock: Clock,
        write_line: Callable[[str], None],
        dispatcher: Dispatcher,
        publisher: Publisher | None,
        report: Report,
        home_automation: HomeAutomation | None = None,
    ) -> None:
        self._library = library
        self._rig = rig
        self._clock = clock
        self._write_line = write_line
        self._dispatcher = dispatcher
        self._publisher = publisher
        self._report = report
        self._home_automation = home_automation
        self._cook: Cook | None = None
        self._outlook: Outlook | None = None
        self._earlier_part = EarlierPart(library, rig)
        self._resting = RestingBatches(library, rig)
        self._states: dict[str, NotificationState] = {}
        self._quiet_since_s: float | None = None
        self._reported = ""
        self._published = ""
        self._published_s: float | None = None

    def update(self) -> bool:
        """Sends what is due at this moment; whether there is work soon: a cook under way, or a platform served."""
        self._dispatcher.refresh()
        if self._publisher is not None:
            self._publisher.tend()
        self._outlook = None
        try:
            # First, because what is left unsent for what is over now is dropped with the cook's own.
            self._resting.tell(self._tell)
            self._follow_cook()
        except RecordingError as error:
            self._cannot_follow(str(error))
        except Exception as error:  # noqa: BLE001 - a fault that one cook brings to light must not silence the others
            self._cannot_follow(f"kettleside fails at the cook of {self._rig} ({type(error).__name__}: {error}).")
        if self._home_automation is None:
            return self._cook is not None
        self._home_automation.update(self._cook, self._outlook)
        return self._cook is not None or self._home_automation.is_served

    def _follow_cook(self) -> None:
        cook = self._running()
        if cook is None:
            self._cook, self._states, self._quiet_since_s = None, {}, None
            self._dispatcher.keep_only(self._rig, self._resting.names)
            self._publish_outlook(None)
            return
        outlook, events = cook.outlook(), cook.history().events
        self._outlook = outlook
        pending = pending_notifications(outlook, events)
        pending = (*self._earlier_part.pending(cook, events, pending), *pending)
        if self._logger_is_gone(pending):
            pending = _with_quiet(pending, NO_LOGGER)
        self._notify(cook, pending)
        self._publish_outlook(outlook)
        self._report_once("")

    def _cannot_follow(self, why: str) -> None:
        """Reports why, one sentence, and notifies of it as the monitor's own quiet once it has lasted."""
        self._report_once(why)
        if self._cook is not None and self._has_lasted():
            self._notify(self._cook, _with_quiet((), f"The cook cannot be followed. {why}"))

    def _running(self) -> Cook | None:
        """The cook under way. Raises RecordingError where the cook of before can no longer be read."""
        cook = self._library.running(self._rig)
        if cook is None and self._cook is not None and not self._is_over(self._cook):
            raise RecordingError(self._cook.path, "it is not where it was")
        if cook is not None and (self._cook is None or cook.name != self._cook.name):
            self._states = load_states(self._library.folder, self._rig, cook.name)
            self._earlier_part.follows(self._cook)
            self._cook, self._quiet_since_s = cook, None
        return cook

    def _is_over(self, cook: Cook) -> bool:
        """Whether it was finished, or a person took its file out of a folder that is still there."""
        if not cook.path.exists():
            # The library goes on with a cook whose folder is away.
            return True
        cook.look()
        return cook.finished() is not None

    def _logger_is_gone(self, pending: tuple[PendingNotification, ...]) -> bool:
        no_data = any(notification.name == "no data" for notification in pending)
        if no_data and not logger_runs(self._library.folder, self._rig):
            return self._has_lasted()
        self._quiet_since_s = None
        return False

    def _has_lasted(self) -> bool:
        now_s = self._clock.real_s()
        if self._quiet_since_s is None:
            self._quiet_since_s = now_s
        return now_s - self._quiet_since_s >= QUIET_AFTER_S

    def _notify(self, cook: Cook, pending: tuple[PendingNotification, ...]) -> None:
        self._states = self._tell(cook, self._states, pending, self._rig)
        names = frozenset(notification.name for notification in pending if not notification.seen)
        self._dispatcher.keep_only(self._rig, names | self._resting.names)

    def _tell(
        self, cook: Cook, before: dict[str, NotificationState], pending: tuple[PendingNotification, ...], kept: str = ""
    ) -> dict[str, NotificationState]:
        """Sends what is due of a cook; the states after it. kept: by which name they are kept, the cook's if empty."""
        settings, wall = self._dispatcher.settings, self._clock.anchor().wall
        states, notices = due_notices(
            before,
            pending,
            cook.batch_now(),
            lambda name: settings.may_notify(name, wall),
            settings.repeat_after_s,
            cook.rate,
        )
        if notices:
            # Saved before sending: after a crash in between, a notice waits for its repeat, and none goes out twice.
            self._save(kept or cook.name, cook, states)
        for notice in notices:
            self._send(notice, cook.source)
        return states

    def _save(self, kept: str, cook: Cook, states: dict[str, NotificationState]) -> None:
        try:
            save_states(self._library.folder, kept, cook.name, states)
        except NoticeFileError as error:
            # Sending matters more than remembering that it was sent.
            self._report_once(str(error))

    def _send(self, notice: Notice, source: str) -> None:
        again = "" if notice.count == 1 else f" (told {notice.count} times)"
        self._write_line(f"{clock_time(notice.at)} {self._rig}: {notice.name}{again}. {notice.text}")
        self._dispatcher.dispatch(Message(self._rig, notice), source)
        if self._publisher is not None:
            self._publisher.publish(f"kettleside/{self._rig}/notice", notice.as_json())

    def _publish_outlook(self, outlook: Outlook | None) -> None:
        """Publishes the outlook of the cook under way where it has changed, at most every few seconds."""
        if self._publisher is None:
            return
        now_s = self._clock.real_s()
        if outlook is not None and self._published_s is not None and now_s - self._published_s < PUBLISH_EVERY_S:
            return
        # An empty retained message takes the last outlook away when the cook is over (MQTT 3.1.1 section 3.3.1.3).
        payload = "" if outlook is None else json.dumps(outlook.as_json())
        if payload != self._published:
            self._publisher.publish(f"kettleside/{self._rig}/outlook", payload, retained=True)
            self._published, self._published_s = payload, now_s

    def _report_once(self, text: str) -> None:
        if text and text != self._reported:
            self._report(text, Level.WARNING)
        self._reported = text

    def close(self) -> None:
        """Closes the connections to brokers."""
        for connection in (self._publisher, self._home_automation):
            if connection is not None:
                connection.close()


def _with_quiet(pending: tuple[PendingNotification, ...], text: str) -> tuple[PendingNotification, ...]:
    """Puts the monitor's own quiet in the place of "no data", which it explains. text: one sentence."""
    return (PendingNotification(QUIET, text), *(one for one in pending if one.name != "no data"))
