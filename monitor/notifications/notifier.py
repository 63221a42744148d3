"""Telling people what is due and what is wrong with the cook of one rig, again and again until they answer."""

import json
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from typing import Protocol

from monitor.logger import RESUMED_WITHIN_S
from monitor.model import CHECK, LOUDER, QUIET, STIR, PendingNotification, clock_time
from monitor.notifications.channels.channel import Message
from monitor.notifications.dispatcher import Dispatcher
from monitor.notifications.pending import pending_notifications
from monitor.notifications.repeat import Notice, NotificationState, due_notices
from monitor.notifications.store import NoticeFileError, is_logged, load_states, save_states
from monitor.runtime import Clock, Level, Report
from monitor.session import Cook, CookLibrary
from monitor.storage import RecordingError

PUBLISH_EVERY_S = 10.0
# A logger that died is started again sooner than this, and a disk that is busy answers sooner.
QUIET_AFTER_S = 30.0
# Whoever logs one of these works at the cook that it is logged in.
WORK = ("lid on", "stirred", "checked")
# What a part of a cook that gets no readings any more can still call for.
DUE = (STIR, CHECK, *LOUDER.values())


class Publisher(Protocol):
    """Where outlooks and notices go over MQTT."""

    def tend(self) -> None:
        """Keeps the connection; called every few seconds."""
        ...

    def publish(self, topic: str, payload: str, *, retained: bool = False) -> None:
        """Sends a message now, or when the connection is back."""
        ...

    def close(self) -> None:
        """Lets go of the connection."""
        ...


class Notifier:
    """Looks at the running cook of one rig and tells what is due.

    tell: takes one line for a person. outgoing: the settings and the messengers. publisher: also takes it as MQTT has
    it (interfaces, section 1), or None.
    """

    def __init__(
        self,
        shelf: CookLibrary,
        rig: str,
        clock: Clock,
        tell: Callable[[str], None],
        outgoing: Dispatcher,
        publisher: Publisher | None,
        say: Report,
    ) -> None:
        self._shelf = shelf
        self._rig = rig
        self._clock = clock
        self._tell = tell
        self._outgoing = outgoing
        self._publisher = publisher
        self._say = say
        self._cook: Cook | None = None
        self._before: Cook | None = None
        self._record: dict[str, NotificationState] = {}
        self._quiet_since_s: float | None = None
        self._trouble = ""
        self._published: str | None = None
        self._published_s: float | None = None

    def look(self) -> bool:
        """One look; whether a cook is under way."""
        self._outgoing.refresh()
        if self._publisher is not None:
            self._publisher.tend()
        try:
            self._look_at_cook()
        except RecordingError as error:
            self._cannot_follow(str(error))
        except Exception as error:  # noqa: BLE001 - a fault that one cook brings to light must not silence the others
            self._cannot_follow(f"kettleside fails at the cook of {self._rig} ({type(error).__name__}: {error}).")
        return self._cook is not None

    def _look_at_cook(self) -> None:
        cook = self._running()
        if cook is None:
            self._cook, self._record, self._quiet_since_s = None, {}, None
            self._outgoing.keep_only(self._rig, frozenset())
            self._publish_outlook("")
            return
        outlook = cook.outlook()
        standing = self._with_part_before(cook, pending_notifications(outlook, cook.history().events))
        if self._logger_is_gone(standing):
            words = "Nothing is being recorded, because no logger runs: look at the computer beside the cooker."
            standing = self._with_quiet(standing, words)
        self._go_on(cook, standing)
        self._publish_outlook(json.dumps(outlook.as_json()))
        self._said("")

    def _with_part_before(
        self, cook: Cook, standing: tuple[PendingNotification, ...]
    ) -> tuple[PendingNotification, ...]:
        """With what is due by an earlier part of this cook that nobody has finished.

        A cook is in two parts where its folder was exchanged for another. The lid and the stirs are in the first, which
        calls until the maker has logged any of them in the second.
        """
        if cook.history().events_of(*WORK):
            return standing
        before = self._part_before(cook)
        if before is None:
            return standing
        answers = [event for event in cook.history().events if event.kind == "acknowledged"]
        due = pending_notifications(before.outlook(), (*before.history().events, *answers))
        names = {one.name for one in standing}
        whose = f"By its earlier part {before.name}, which was left unfinished:"
        more = [replace(one, words=f"{whose} {one.words}") for one in due if one.name in DUE and one.name not in names]
        return *more, *standing

    def _part_before(self, cook: Cook) -> Cook | None:
        """The cook that ran here until this one began, where it has its lid on and nobody has finished it."""
        if self._before is not None and self._before.finished() is not None:
            self._before = None
        if self._before is None:
            for path in self._shelf.left_unfinished(self._rig):
                with suppress(RecordingError):
                    found = self._shelf.cook(path.stem)
                    if found.history().events_of(*WORK) and found.name != cook.name:
                        self._before = found
                        break
        if self._before is None or cook.now() - self._before.last_known >= RESUMED_WITHIN_S:
            return None
        return self._before

    def _cannot_follow(self, why: str) -> None:
        """why: one sentence, told as the monitor's own quiet once it has lasted."""
        self._said(why)
        if self._cook is not None and self._has_lasted():
            self._go_on(self._cook, self._with_quiet((), f"The cook cannot be followed. {why}"))

    def _running(self) -> Cook | None:
        """The cook to tell of. Raises RecordingError where the one of before can no longer be read."""
        cook = self._shelf.running(self._rig)
        if cook is None and self._cook is not None and not self._is_over(self._cook):
            raise RecordingError(self._cook.path, "it is not where it was")
        if cook is not None and (self._cook is None or cook.name != self._cook.name):
            self._record = load_states(self._shelf.folder, self._rig, cook.name)
            self._before = self._cook if self._cook is not None and self._cook.history().events_of(*WORK) else None
            self._cook, self._quiet_since_s = cook, None
        return cook

    def _is_over(self, cook: Cook) -> bool:
        """Whether it was finished, or a person took its file out of a folder that is still there."""
        if not cook.path.exists():
            # The shelf goes on with one whose folder is away.
            return True
        cook.look()
        return cook.finished() is not None

    def _logger_is_gone(self, standing: tuple[PendingNotification, ...]) -> bool:
        if any(one.name == "no data" for one in standing) and not is_logged(self._shelf.folder, self._rig):
            return self._has_lasted()
        self._quiet_since_s = None
        return False

    def _has_lasted(self) -> bool:
        now_s = self._clock.real_s()
        if self._quiet_since_s is None:
            self._quiet_since_s = now_s
        return now_s - self._quiet_since_s >= QUIET_AFTER_S

    def _with_quiet(self, standing: tuple[PendingNotification, ...], words: str) -> tuple[PendingNotification, ...]:
        """That the monitor itself is quiet, in the place of "no data", which it explains."""
        return (PendingNotification(QUIET, words), *(one for one in standing if one.name != "no data"))

    def _go_on(self, cook: Cook, standing: tuple[PendingNotification, ...]) -> None:
        settings, wall = self._outgoing.settings, self._clock.anchor().wall
        record, notices = due_notices(
            self._record,
            standing,
            cook.now(),
            lambda name: settings.may_tell(name, wall),
            settings.again_after_s,
            cook.rate,
        )
        if notices:
            # Kept before it is told: one that dies in between stays untold until its next round, none is told twice.
            self._keep(cook, record)
        self._record = record
        self._outgoing.keep_only(self._rig, frozenset(one.name for one in standing if not one.seen))
        for notice in notices:
            self._send(notice, cook.source)

    def _keep(self, cook: Cook, record: dict[str, NotificationState]) -> None:
        try:
            save_states(self._shelf.folder, self._rig, cook.name, record)
        except NoticeFileError as error:
            # Telling matters more than remembering it.
            self._said(str(error))

    def _send(self, notice: Notice, source: str) -> None:
        again = "" if notice.times == 1 else f" (told {notice.times} times)"
        self._tell(f"{clock_time(notice.at)} {self._rig}: {notice.name}{again}. {notice.words}")
        self._outgoing.put(Message(self._rig, notice), source)
        if self._publisher is not None:
            self._publisher.publish(f"kettleside/{self._rig}/notice", notice.as_json())

    def _publish_outlook(self, payload: str) -> None:
        now_s = self._clock.real_s()
        recent = self._published_s is not None and now_s - self._published_s < PUBLISH_EVERY_S
        if self._publisher is None or payload == self._published or (recent and payload):
            return
        # An empty retained message takes the last outlook away when the cook is over (MQTT 3.1.1 section 3.3.1.3).
        if payload or self._published:
            self._publisher.publish(f"kettleside/{self._rig}/outlook", payload, retained=True)
            self._published, self._published_s = payload, now_s

    def _said(self, trouble: str) -> None:
        if trouble and trouble != self._trouble:
            self._say(trouble, Level.WARNING)
        self._trouble = trouble

    def close(self) -> None:
        """Says goodbye to the broker."""
        if self._publisher is not None:
            self._publisher.close()
