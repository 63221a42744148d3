"""Buffers packs and events until they are committed, also while the disk is full or away."""

import math
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from typing import TypeAlias

from monitor.model import Event
from monitor.protocol import Pack
from monitor.runtime import Clock, Level, Report
from monitor.storage import Recorder, RecordingError

# The least time from one commit to the next: at most one second of readings may be lost, and the writing itself takes
# some of it. A pack that comes after a longer pause is written at once.
COMMIT_EVERY_S = 0.8
RETRY_S = 1.0
# Ten minutes of four channels at 12 Hz; about 10 MB.
MOST_RECORDS = 30_000

Buffered: TypeAlias = Pack | Event


class WriteBuffer:
    """Buffers the packs and events of one recording, which may not be writable for a while.

    open_recorder: opens or creates the recording; called again after a failure. on_dropped: called with the number of
    packs that were dropped because too many were waiting.
    """

    def __init__(
        self, open_recorder: Callable[[], Recorder], clock: Clock, report: Report, on_dropped: Callable[[int], None]
    ) -> None:
        self._open_recorder = open_recorder
        self._clock = clock
        self._report = report
        self._on_dropped = on_dropped
        self._recorder: Recorder | None = None
        self._items: deque[Buffered] = deque()
        self._packs = 0
        self._records = 0
        self._oldest_s: float | None = None
        self._stored_s = -math.inf
        self._retry_s: float | None = None
        self._failure: str | None = None
        self._dropped = 0

    @property
    def waiting(self) -> int:
        """How many packs and events are not committed yet."""
        return len(self._items)

    def open(self) -> Recorder:
        """The open recorder. Raises RecordingError."""
        if self._recorder is not None and not self._recorder.is_in_place():
            # What is written into a file that was moved away is not what others read under its name.
            self.release()
        if self._recorder is None:
            self._recorder = self._open_recorder()
        return self._recorder

    def add(self, item: Buffered) -> None:
        """Adds a pack or an event, to be written by the next ``store``."""
        if self._oldest_s is None:
            self._oldest_s = self._clock.real_s()
        self._items.append(item)
        if isinstance(item, Pack):
            self._packs += 1
            self._records += len(item.records) + 1
        if self._records > MOST_RECORDS:
            self._drop_oldest()

    def _drop_oldest(self) -> None:
        remaining: deque[Buffered] = deque(item for item in self._items if not isinstance(item, Pack))
        packs = deque(item for item in self._items if isinstance(item, Pack))
        dropped = 0
        # A tenth at a time, so that this is rare.
        while packs and self._records > MOST_RECORDS * 0.9:
            self._records -= len(packs.popleft().records) + 1
            dropped += 1
        self._packs -= dropped
        self._dropped += dropped
        remaining.extend(packs)
        self._items = remaining
        self._on_dropped(dropped)

    def due_in_s(self) -> float | None:
        """In how many real seconds ``store`` is due; None when nothing waits."""
        if self._oldest_s is None:
            return None
        due_s = max(self._oldest_s, self._stored_s + COMMIT_EVERY_S) if self._retry_s is None else self._retry_s
        return max(0.0, due_s - self._clock.real_s())

    def is_due(self, window: int) -> bool:
        """Whether it is time to ``store``. window: how many packs may wait before the sender is held up."""
        due_in_s = self.due_in_s()
        return due_in_s is not None and (due_in_s <= 0.0 or (self._retry_s is None and self._packs >= window))

    def last_write_succeeded(self) -> bool:
        """Whether another write may be tried at once: the last one succeeded, or there was none."""
        return self._retry_s is None

    def store(self) -> list[Pack]:
        """Commits what waits; returns the packs that are now durable, none where the write failed and is tried again.

        Raises RecordingError only where the file itself is damaged; what waits then goes on waiting.
        """
        if not self._items:
            return []
        try:
            recorder = self.open()
            for item in self._items:
                if isinstance(item, Event):
                    recorder.add_event(item)
                else:
                    recorder.add_pack(item)
            recorder.commit()
        except RecordingError as error:
            self._note_failure(error)
            return []
        if self._failure is not None:
            fate = f"{self._dropped} packs were too many to keep" if self._dropped else "nothing that waited is lost"
            self._report(f"{recorder.path.name} is written again; {fate}.")
        packs = [item for item in self._items if isinstance(item, Pack)]
        self._items.clear()
        self._packs = self._records = 0
        self._oldest_s = self._retry_s = self._failure = None
        self._dropped = 0
        self._stored_s = self._clock.real_s()
        return packs

    def _note_failure(self, error: RecordingError) -> None:
        self._retry_s = self._clock.real_s() + RETRY_S
        if self._recorder is not None:
            # A file system that was away and came back wants its files opened anew; and only what the file
            # holds says which packs were stored before.
            self._recorder.abandon()
            self._recorder = None
        if error.damaged:
            raise error
        if error.why != self._failure:
            self._failure = error.why
            self._report(f"{error} Readings are kept in memory and the write is tried again each second.", Level.ERROR)

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

    def release(self) -> None:
        """Closes the file, which stays a running cook; the next ``store`` opens it again."""
        if self._recorder is not None:
            recorder, self._recorder = self._recorder, None
            with suppress(RecordingError):
                recorder.close()
