"""Keeps packs and events until they are committed, through a full disk and back."""

import math
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from typing import TypeAlias

from monitor.model import Event
from monitor.protocol import Pack
from monitor.runtime import Clock, Level, Report
from monitor.storage import Recorder, RecordingError

# Commits are this far apart or more: "at most one second at stake", with room for the writing itself. A pack
# that comes after a longer pause is written at once.
COMMIT_EVERY_S = 0.8
RETRY_S = 1.0
# Ten minutes of four channels at 12 Hz; about 10 MB.
MOST_RECORDS = 30_000

Buffered: TypeAlias = Pack | Event


class WriteBuffer:
    """The way of packs and events into one recording, which may not be writable for a while.

    opens: opens or creates the recording; called again after a failure. path: the file, once there is one.
    dropped: called with the number of packs that had to be let go because too many were waiting.
    """

    def __init__(
        self, opens: Callable[[], Recorder], clock: Clock, say: Report, dropped: Callable[[int], None]
    ) -> None:
        self._opens = opens
        self._clock = clock
        self._say = say
        self._dropped = dropped
        self._recorder: Recorder | None = None
        self._waiting: deque[Buffered] = deque()
        self._packs = 0
        self._records = 0
        self._oldest_s: float | None = None
        self._stored_s = -math.inf
        self._retry_s: float | None = None
        self._trouble: str | None = None
        self._gone = 0

    @property
    def waiting(self) -> int:
        """How many packs and events are not committed yet."""
        return len(self._waiting)

    def open(self) -> Recorder:
        """The open recorder. Raises RecordingError."""
        if self._recorder is not None and not self._recorder.is_in_place():
            # What is written into a file that was moved away is not what others read under its name.
            self.let_go()
        if self._recorder is None:
            self._recorder = self._opens()
        return self._recorder

    def add(self, item: Buffered) -> None:
        """Takes a pack or an event, to be written by the next ``store``."""
        if self._oldest_s is None:
            self._oldest_s = self._clock.real_s()
        self._waiting.append(item)
        if isinstance(item, Pack):
            self._packs += 1
            self._records += len(item.records) + 1
        if self._records > MOST_RECORDS:
            self._let_go()

    def _let_go(self) -> None:
        kept: deque[Buffered] = deque(item for item in self._waiting if not isinstance(item, Pack))
        packs = deque(item for item in self._waiting if isinstance(item, Pack))
        gone = 0
        # A tenth at a time, so that this is rare.
        while packs and self._records > MOST_RECORDS * 0.9:
            self._records -= len(packs.popleft().records) + 1
            gone += 1
        self._packs -= gone
        self._gone += gone
        kept.extend(packs)
        self._waiting = kept
        self._dropped(gone)

    def store_in_s(self) -> float | None:
        """In how many real seconds ``store`` is due; None when nothing waits."""
        if self._oldest_s is None:
            return None
        due_s = max(self._oldest_s, self._stored_s + COMMIT_EVERY_S) if self._retry_s is None else self._retry_s
        return max(0.0, due_s - self._clock.real_s())

    def is_due(self, window: int) -> bool:
        """Whether it is time to ``store``. window: how many packs may wait before the sender is held up."""
        due_in_s = self.store_in_s()
        return due_in_s is not None and (due_in_s <= 0.0 or (self._retry_s is None and self._packs >= window))

    def may_try(self) -> bool:
        """Whether the last write went well, so that another may be tried at once."""
        return self._retry_s is None

    def store(self) -> list[Pack]:
        """Commits what waits; the packs that are now safe, none where it failed (then it is tried again).

        Raises RecordingError only where the file itself is spoilt; what waits then waits on.
        """
        if not self._waiting:
            return []
        try:
            recorder = self.open()
            for item in self._waiting:
                if isinstance(item, Event):
                    recorder.add_event(item)
                else:
                    recorder.add_pack(item)
            recorder.commit()
        except RecordingError as error:
            self._failed(error)
            return []
        if self._trouble is not None:
            fate = f"{self._gone} packs were too many to keep" if self._gone else "nothing that waited is lost"
            self._say(f"{recorder.path.name} is written again; {fate}.")
        packs = [item for item in self._waiting if isinstance(item, Pack)]
        self._waiting.clear()
        self._packs = self._records = 0
        self._oldest_s = self._retry_s = self._trouble = None
        self._gone = 0
        self._stored_s = self._clock.real_s()
        return packs

    def _failed(self, error: RecordingError) -> None:
        self._retry_s = self._clock.real_s() + RETRY_S
        if self._recorder is not None:
            # A file system that was away and came back wants its files opened anew; and only what the file
            # holds says which packs were stored before.
            self._recorder.abandon()
            self._recorder = None
        if error.damaged:
            raise error
        if error.why != self._trouble:
            self._trouble = error.why
            self._say(f"{error} Readings are kept in memory and the write is tried again each second.", Level.ERROR)

    def is_finished(self) -> bool:
        """Whether a person has logged ``finished``; False while that cannot be told."""
        if self._recorder is None:
            return False
        try:
            return self._recorder.is_finished()
        except RecordingError:
            return False

    def finish(self) -> bool:
        """Closes the finished recording; whether its WAL is folded in. Raises RecordingError."""
        recorder = self.open()
        self._recorder = None
        return recorder.finish()

    def let_go(self) -> None:
        """Closes the file, which stays a running cook; the next ``store`` opens it again."""
        if self._recorder is not None:
            recorder, self._recorder = self._recorder, None
            with suppress(RecordingError):
                recorder.close()
