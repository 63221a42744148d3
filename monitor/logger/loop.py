"""From a source into recordings, and nothing else: no model, no page, no network beyond the source.

Without numpy and pandas in its process, so that it stays small.
"""

import uuid
from collections import deque
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event as Flag

from monitor.logger.channel_report import ChannelReport
from monitor.logger.folder_watch import FolderWatch
from monitor.logger.lock import LoggerLock
from monitor.logger.loss_counter import LossCounter
from monitor.logger.resume import absent_cook, cook_to_resume
from monitor.logger.write_buffer import WriteBuffer
from monitor.model import Event, clock_offset_text, make_event, role, to_celsius
from monitor.protocol import BadLine, Pack, TimestampCorrector, latest_clock_ahead_s
from monitor.runtime import Clock, Level, Report
from monitor.sources import Info, Lost, Restored, Source, SourceItem
from monitor.storage import Recorder, RecordingError, fold, is_running, read_header, recordings, summary, write_sheet

LONGEST_POLL_S = 0.5
LOOK_EVERY_S = 1.0
FOLD_EVERY_S = 2.0
# After a finished cook: below the first the pot has been emptied, above the second a new cook is on, degC.
COOLED_C = 40.0
WARM_AGAIN_C = 45.0
# What comes after the end is held for so long, in case the end was logged by accident: seconds of cook time, records.
HELD_S, MOST_HELD_RECORDS = 1800.0, 20_000


def run_logger(
    source: Source,
    folder: Path,
    clock: Clock,
    rig: str,
    sheet: str | None,
    say: Report,
    stop: Flag,
    *,
    once: bool = False,
) -> None:
    """Records until ``stop`` is set, one recording a cook; with ``once`` until the cook is finished.

    rig: the cooker's name. sheet: the batch sheet's text for the cook under way or about to begin.
    Raises MonitorError when at the start nothing can be recorded; later troubles are said and outlived.
    """
    waits = absent_cook(folder, rig, clock.anchor())
    with LoggerLock(folder, rig, stop, away=waits is not None) as only:
        logger = _Logger(source, folder, clock, rig, sheet, say, FolderWatch(only, folder, clock, waits), once=once)
        try:
            logger.start()
            while not stop.is_set() and not logger.done:
                logger.step()
        finally:
            logger.end()


@dataclass(slots=True)
class _Idle:
    """Before the first cook or between two. last: the finished one. before: the files that were there then.

    cooled: whether the paste probe has been cold since. held: what has come since, should its end be taken back.
    """

    last: Path | None
    before: frozenset[Path]
    cooled: bool = False
    held: deque[Pack] = field(default_factory=deque)
    held_records: int = 0

    def hold(self, pack: Pack) -> None:
        """Holds a pack and lets go of those that are too old or too many."""
        self.held.append(pack)
        self.held_records += len(pack.records) + 1
        while self.held_records > MOST_HELD_RECORDS or self.held[0].arrived < pack.arrived - HELD_S:
            self.held_records -= len(self.held.popleft().records) + 1


class _Logger:
    def __init__(
        self,
        source: Source,
        folder: Path,
        clock: Clock,
        rig: str,
        sheet: str | None,
        say: Report,
        hold: FolderWatch,
        *,
        once: bool,
    ) -> None:
        self._source = source
        self._folder = folder
        self._clock = clock
        self._rig = rig
        self._sheet = sheet
        self._say = say
        self._hold = hold
        self._once = once
        self._path: Path | None = None
        self._keeper: WriteBuffer | None = None
        self._idle: _Idle | None = None
        self._tally = LossCounter()
        self._arrivals = TimestampCorrector(clock.anchor().rate)
        self._look_s = 0.0
        self._fold_s = 0.0
        self._unfolded: list[Path] = []
        self._outage: set[str] = set()
        self._hearing = ChannelReport(clock, say)
        self.done = False

    def start(self) -> None:
        """Goes on with the running cook or begins one; waits for one that is away. Raises RecordingError."""
        if self._hold.awaited is not None:
            self._record(self._hold.awaited)
            self._say(self._hold.in_words(), Level.ERROR)
            self._note("resumed")
            return
        found = cook_to_resume(self._folder, self._rig, self._clock.anchor())
        path = found[0] if found is not None else None
        self._unfolded = [other for other in recordings(self._folder) if other != path and self._is_left_over(other)]
        if path is not None and self._sheet is not None and read_header(path).sheet is None:
            write_sheet(path, self._sheet, self._clock.now())
        if path is None and self._sheet is None:
            # A source that never speaks leaves no empty cook behind, which a later logger would go on with.
            self._idle = _Idle(None, frozenset(recordings(self._folder)))
            self._say(f"Waits for the first reading from {self._source.url}; a recording begins with it.")
            return
        self._record(path)
        recorder = self._keeper_now().open()
        if path is not None:
            recorder.tie_clock(self._clock.anchor())
            self._tally = LossCounter(recorder.last_seq)
            self._arrivals = TimestampCorrector(self._clock.anchor().rate, latest_clock_ahead_s(summary(path).events))
            self._note("resumed")
            self._say(f"Goes on with {path.name}, from {self._source.url}.")

    def _is_left_over(self, path: Path) -> bool:
        """Whether a logger died before it could fold this one."""
        if not path.with_name(f"{path.name}-wal").exists():
            return False
        return is_running(path, self._rig) or not is_running(path)

    def _record(self, path: Path | None) -> None:
        """Turns to this recording, or to a new one that is created as soon as that is possible."""
        self._path = path
        self._keeper = WriteBuffer(self._open, self._clock, self._say, self._let_go)
        self._tally = LossCounter()
        self._idle = None

    def _keeper_now(self) -> WriteBuffer:
        assert self._keeper is not None
        return self._keeper

    def _let_go(self, packs: int) -> None:
        self._tally.note_lost(packs)

    def _open(self) -> Recorder:
        if self._path is not None and self._hold.is_taken_out(self._path):
            self._say(f"{self._path.name} is gone; a new recording begins.", Level.WARNING)
            self._path = None
        if self._path is not None:
            recorder = Recorder.resume(self._path)
            if self._hold.has_come_back(self._path):
                recorder.tie_clock(self._clock.anchor())
            return recorder
        # Once it was there the folder is never made: its disk may be away.
        recorder = Recorder.create(
            self._folder,
            self._clock.anchor(),
            rig=self._rig,
            source=self._source.url,
            sheet=self._sheet,
            make_folder=False,
        )
        self._path = recorder.path
        self._hold.begins(recorder.path)
        self._say(f"Records into {recorder.path.name}, from {self._source.url}.")
        return recorder

    def step(self) -> None:
        """One turn: listen, write what is due, look after the rest."""
        for item in self._source.poll(self._patience_s()):
            self._take(item)
        self._hold.note(self._source.port, self._path)
        now_s = self._clock.real_s()
        if self._idle is None or self._idle.last is None:
            self._count_out(self._keeper)
        if self._keeper is not None and self._keeper.is_due(self._source.window):
            self._store(self._keeper)
        if now_s >= self._look_s:
            self._look_s = now_s + LOOK_EVERY_S
            self._look()
        if self._unfolded and now_s >= self._fold_s:
            self._fold_s = now_s + FOLD_EVERY_S
            self._unfolded = [path for path in self._unfolded if not _folded(path)]

    def _count_out(self, keeper: WriteBuffer | None, *, at_end: bool = False) -> None:
        for event in self._tally.events_due(self._clock.now(), at_end=at_end):
            self._say(_in_words(event), Level.WARNING)
            if keeper is not None:
                keeper.add(event)

    def _note_clock(self, keeper: WriteBuffer) -> None:
        anchor = self._clock.anchor()
        # Where they differ this machine's clock was set while the cook ran; a virtual cook has a time of its own.
        own_ahead_s = anchor.wall - anchor.cook_time if anchor.rate == 1.0 else 0.0
        for event in self._arrivals.events_due(anchor.cook_time, own_ahead_s):
            self._say(_in_words(event), Level.WARNING)
            keeper.add(event)

    def _patience_s(self) -> float:
        store_in_s = self._keeper.store_in_s() if self._keeper is not None else None
        return LONGEST_POLL_S if store_in_s is None else min(LONGEST_POLL_S, store_in_s)

    def _take(self, item: SourceItem) -> None:
        if isinstance(item, Pack):
            self._take_pack(item)
        elif isinstance(item, BadLine):
            self._tally.note_bad(item)
        elif isinstance(item, Info):
            self._say(item.words)
        elif isinstance(item, Lost):
            if not self._outage:
                self._note("source lost", {"reason": item.reason[:400]})
            if item.reason not in self._outage:
                self._say(item.reason, Level.WARNING)
            self._outage.add(item.reason)
        else:
            self._take_back(item)

    def _take_back(self, back: Restored) -> None:
        self._outage.clear()
        self._note("source back", at=back.at)
        self._say("The source speaks again.")

    def _take_pack(self, heard: Pack) -> None:
        pack = self._arrivals.timed(heard)
        if self._idle is not None and not self._is_new_cook(pack, self._idle):
            # Nothing is recorded between two cooks; the sender need not keep it either.
            self._idle.hold(pack)
            self._source.stored([pack])
            return
        if self._idle is not None:
            # A person may have begun one on a page since the last look.
            self._look_for_new(self._idle)
        if self._idle is not None:
            if self._idle.last is not None:
                self._say("The paste is warm again: a new recording begins.")
            self._record(None)
            self._arrivals.begin_cook()
        self._hearing.take(pack)
        self._tally.note_pack(pack)
        self._keeper_now().add(pack)

    def _is_new_cook(self, pack: Pack, idle: _Idle) -> bool:
        if idle.last is None:
            return True
        for record in pack.records:
            celsius = to_celsius(record.value, record.unit) if record.value is not None else None
            if role(record.channel) == "paste" and celsius is not None:
                idle.cooled = idle.cooled or celsius < COOLED_C
                if idle.cooled and celsius > WARM_AGAIN_C:
                    return True
        return False

    def _note(self, kind: str, fields: Mapping[str, object] | None = None, at: float | None = None) -> None:
        """Records what the logger itself noticed, and does it now: it may be the last thing for a while."""
        if self._keeper is None:
            return
        moment = self._clock.now() if at is None else at
        self._keeper.add(make_event(str(uuid.uuid4()), kind, moment, moment, fields, by_logger=True))
        if self._keeper.may_try():
            self._store(self._keeper)

    def _store(self, keeper: WriteBuffer) -> None:
        try:
            self._source.stored(keeper.store())
        except RecordingError as error:
            if self._hold.may_mend(self._path):
                return
            self._say(f"{error} A new recording begins.", Level.ERROR)
            self._path = None

    def _look(self) -> None:
        """What else may have happened in the folder."""
        if self._idle is not None:
            self._look_for_new(self._idle)
        elif self._keeper is not None:
            self._note_clock(self._keeper)
            if self._path is not None and not self._hold.look(self._path):
                self._keeper.let_go()
            elif self._keeper.is_finished():
                self._finish(self._keeper)

    def _finish(self, keeper: WriteBuffer) -> None:
        self._count_out(keeper, at_end=True)
        self._store(keeper)
        path = self._path
        if keeper.waiting or path is None:
            return
        try:
            folded = keeper.finish()
        except RecordingError:
            folded = False
        if not folded:
            self._unfolded.append(path)
        self._say(f"The cook is finished; its recording is {path.name}.")
        # The batch sheet was this cook's.
        self._sheet = None
        self._keeper = None
        self._hold.ends()
        self._idle = _Idle(path, frozenset(recordings(self._folder)))
        self.done = self._once and not self._unfolded

    def _look_for_new(self, idle: _Idle) -> None:
        if self._once and idle.last is not None:
            self.done = not self._unfolded
            return
        with suppress(RecordingError):
            for path in recordings(self._folder):
                # Begun on a page meanwhile; or the last one, whose end may have been taken back.
                if (path == idle.last or path not in idle.before) and is_running(path, self._rig):
                    self._unfolded = [other for other in self._unfolded if other != path]
                    held = idle.held if path == idle.last else deque[Pack]()
                    self._record(path)
                    recorder = self._keeper_now().open()
                    recorder.tie_clock(self._clock.anchor())
                    self._tally = LossCounter(recorder.last_seq)
                    if path == idle.last:
                        self._note("resumed")
                    else:
                        self._arrivals.begin_cook()
                    for pack in held:
                        self._tally.note_pack(pack)
                        self._keeper_now().add(pack)
                    self._say(f"Records into {path.name}.")
                    return

    def end(self) -> None:
        """Writes what waits and lets go of the file and the source."""
        if self._keeper is not None:
            self._count_out(self._keeper, at_end=True)
            self._store(self._keeper)
            if self._keeper.waiting:
                self._say(f"{self._keeper.waiting} packs and events could not be written and are lost.", Level.ERROR)
            self._keeper.let_go()
        self._source.close()


def _folded(path: Path) -> bool:
    if not path.is_file():
        # Its folder may be away for a while, and the file with it.
        return path.parent.is_dir()
    try:
        return fold(path)
    except RecordingError:
        return False


def _in_words(event: Event) -> str:
    if event.kind == "rig clock":
        ahead_s = float(event.fields["ahead_s"])
        if not ahead_s:
            return "The rig's clock is right again."
        off = (
            "counts from its own start"
            if "counts" in event.fields
            else f"is {clock_offset_text(ahead_s)} of this machine's"
        )
        return f"The rig's clock {off}; that much is taken off its times."
    count = int(float(event.fields["count"]))
    if event.kind == "packs lost":
        return f"{count} packs were lost on their way here."
    lines = "A line" if count == 1 else f"{count} lines"
    return f"{lines} could not be read: {event.fields['reason']}; it began {event.fields['bytes']}"
