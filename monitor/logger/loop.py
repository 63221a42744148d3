"""From a source into recordings, and nothing else: no model, no page, no network beyond the source.

Its process loads neither numpy nor pandas, so that it stays small.
"""

import uuid
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from threading import Event as Flag

from monitor.logger.between_cooks import BetweenCooks
from monitor.logger.channel_report import ChannelReport
from monitor.logger.event_text import event_text
from monitor.logger.folder_watch import FolderWatch
from monitor.logger.folding import FoldQueue, unfolded
from monitor.logger.lock import LoggerLock
from monitor.logger.loss_counter import LossCounter
from monitor.logger.resume import absent_cook, cook_to_resume
from monitor.logger.write_buffer import WriteBuffer
from monitor.model import Event, make_event
from monitor.protocol import BadLine, Pack, TimestampCorrector, latest_clock_ahead_s
from monitor.runtime import Clock, Level, Report, beat
from monitor.sources import Info, Lost, Source, SourceItem
from monitor.storage import Recorder, RecordingError, read_header, summary, write_sheet

LONGEST_POLL_S = 0.5
# How often the folder is looked at: for a logged end, for a recording that is gone, for a cook begun on a page.
LOOK_EVERY_S = 1.0


def run_logger(
    source: Source,
    folder: Path,
    clock: Clock,
    rig: str,
    sheet: str | None,
    report: Report,
    stop: Flag,
    *,
    once: bool = False,
) -> None:
    """Records until ``stop`` is set, one recording a cook; with ``once`` until the cook is finished.

    rig: the cooker's name. sheet: the batch sheet's text for the cook under way or about to begin.
    Raises MonitorError when at the start nothing can be recorded; later troubles are reported and outlived.
    """
    absent = absent_cook(folder, rig, clock.anchor())
    with LoggerLock(folder, rig, stop, away=absent is not None) as lock:
        watch = FolderWatch(lock, folder, clock, absent)
        logger = _Logger(source, folder, clock, rig, sheet, report, watch, once=once)
        try:
            logger.start()
            while not stop.is_set() and not logger.done:
                beat()
                logger.step()
        finally:
            logger.end()


class _Logger:
    """One rig's logger. Either a cook is recorded (``_buffer``) or the next one is waited for (``_idle``).

    done: with ``once``, whether the cook is finished and folded.
    """

    def __init__(
        self,
        source: Source,
        folder: Path,
        clock: Clock,
        rig: str,
        sheet: str | None,
        report: Report,
        watch: FolderWatch,
        *,
        once: bool,
    ) -> None:
        self._source = source
        self._folder = folder
        self._clock = clock
        self._rig = rig
        self._sheet = sheet
        self._report = report
        self._watch = watch
        self._once = once
        self._path: Path | None = None
        self._buffer: WriteBuffer | None = None
        self._idle: BetweenCooks | None = None
        self._losses = LossCounter()
        self._corrector = TimestampCorrector(clock.anchor().rate)
        self._look_s = 0.0
        self._folds = FoldQueue(clock)
        self._lost_reasons: set[str] = set()
        self._channels = ChannelReport(clock, report)
        self.done = False

    def start(self) -> None:
        """Goes on with the running cook or begins one; waits for one that is away. Raises RecordingError."""
        if self._watch.absent is not None:
            self._record_into(self._watch.absent)
            self._report(self._watch.absence_text(), Level.ERROR)
            self._log("resumed")
            return
        resumed = cook_to_resume(self._folder, self._rig, self._clock.anchor())
        path = resumed[0] if resumed is not None else None
        self._folds = FoldQueue(self._clock, unfolded(self._folder, self._rig, path))
        if path is not None and self._sheet is not None and read_header(path).sheet is None:
            write_sheet(path, self._sheet, self._clock.now())
        if path is None and self._sheet is None:
            # A source that never sends leaves no empty cook behind, which a later logger would go on with.
            self._idle = BetweenCooks.begin(None, self._folder)
            self._report(f"Waits for the first reading from {self._source.url}; a recording begins with it.")
            return
        recorder = self._record_into(path).open()
        if path is not None:
            recorder.tie_clock(self._clock.anchor())
            self._losses = LossCounter(recorder.last_seq)
            self._corrector = TimestampCorrector(self._clock.anchor().rate, latest_clock_ahead_s(summary(path).events))
            self._log("resumed")
            self._report(f"Goes on with {path.name}, from {self._source.url}.")

    def _record_into(self, path: Path | None) -> WriteBuffer:
        """Turns to this recording, or to a new one that is created as soon as that is possible."""
        self._path = path
        self._losses = LossCounter()
        self._idle = None
        self._buffer = WriteBuffer(self._open, self._clock, self._report, lambda count: self._losses.note_lost(count))
        return self._buffer

    def _open(self) -> Recorder:
        if self._path is not None and self._watch.is_deleted(self._path):
            self._report(f"{self._path.name} is gone; a new recording begins.", Level.WARNING)
            self._path = None
        if self._path is not None:
            recorder = Recorder.resume(self._path)
            if self._watch.note_opened(self._path):
                recorder.tie_clock(self._clock.anchor())
            return recorder
        # The folder was made at the start; made again later it would hide that its disk is away.
        recorder = Recorder.create(
            self._folder,
            self._clock.anchor(),
            rig=self._rig,
            source=self._source.url,
            sheet=self._sheet,
            make_folder=False,
        )
        self._path = recorder.path
        self._watch.note_created(recorder.path)
        self._report(f"Records into {recorder.path.name}, from {self._source.url}.")
        return recorder

    def step(self) -> None:
        """One turn of the loop: hear the source, write what is due, look at the folder."""
        due_in_s = self._buffer.due_in_s() if self._buffer is not None else None
        for item in self._source.poll(LONGEST_POLL_S if due_in_s is None else min(LONGEST_POLL_S, due_in_s)):
            self._handle(item)
        self._watch.note(self._source.port, self._path)
        if self._idle is None or self._idle.last is None:
            self._log_losses(self._buffer)
        if self._buffer is not None and self._buffer.is_due(self._source.window):
            self._store(self._buffer)
        if self._clock.real_s() >= self._look_s:
            self._look_s = self._clock.real_s() + LOOK_EVERY_S
            self._look()
        self._folds.work()

    def _handle(self, item: SourceItem) -> None:
        if isinstance(item, Pack):
            self._handle_pack(item)
        elif isinstance(item, BadLine):
            self._losses.note_bad_line(item)
        elif isinstance(item, Info):
            self._report(item.text)
        elif isinstance(item, Lost):
            if not self._lost_reasons:
                self._log("source lost", {"reason": item.reason[:400]})
            if item.reason not in self._lost_reasons:
                self._report(item.reason, Level.WARNING)
            self._lost_reasons.add(item.reason)
        else:
            self._lost_reasons.clear()
            self._log("source back", at=item.at)
            self._report("The source speaks again.")

    def _handle_pack(self, arrived: Pack) -> None:
        pack = self._corrector.corrected(arrived)
        if self._idle is not None and not self._idle.begins_cook(pack):
            # Nothing is recorded between two cooks; the sender need not keep it either.
            self._idle.keep(pack)
            self._source.stored([pack])
            return
        if self._idle is not None:
            # A person may have begun a cook on a page since the last look.
            self._look_for_cook(self._idle)
        if self._idle is not None:
            if self._idle.last is not None:
                self._report("The paste is warm again: a new recording begins.")
            self._record_into(None)
            self._corrector.begin_cook()
        assert self._buffer is not None
        self._channels.note_pack(pack)
        self._losses.note_pack(pack)
        self._buffer.add(pack)

    def _log(self, kind: str, fields: Mapping[str, object] | None = None, at: float | None = None) -> None:
        """Records an event of the logger's own, and at once: nothing else may be written for a while."""
        if self._buffer is None:
            return
        moment = self._clock.now() if at is None else at
        self._buffer.add(make_event(str(uuid.uuid4()), kind, moment, moment, fields, by_logger=True))
        if self._buffer.last_write_succeeded():
            self._store(self._buffer)

    def _log_losses(self, buffer: WriteBuffer | None, *, at_end: bool = False) -> None:
        self._log_noticed(self._losses.events_due(self._clock.now(), at_end=at_end), buffer)

    def _log_clock_offset(self, buffer: WriteBuffer) -> None:
        anchor = self._clock.anchor()
        # Where they differ this machine's clock was set while the cook ran; a virtual cook has a time of its own.
        own_ahead_s = anchor.wall - anchor.cook_time if anchor.rate == 1.0 else 0.0
        self._log_noticed(self._corrector.events_due(anchor.cook_time, own_ahead_s), buffer)

    def _log_noticed(self, events: Iterable[Event], buffer: WriteBuffer | None) -> None:
        for event in events:
            self._report(event_text(event), Level.WARNING)
            if buffer is not None:
                buffer.add(event)

    def _store(self, buffer: WriteBuffer) -> None:
        try:
            self._source.stored(buffer.store())
        except RecordingError as error:
            if not self._watch.may_be_incomplete(self._path):
                self._report(f"{error} A new recording begins.", Level.ERROR)
                self._path = None

    def _look(self) -> None:
        """Looks for what others may have done in the folder."""
        if self._idle is not None:
            self._look_for_cook(self._idle)
        elif self._buffer is not None:
            self._log_clock_offset(self._buffer)
            if self._path is not None and not self._watch.is_in_place(self._path):
                self._buffer.release()
            elif self._buffer.is_finished():
                self._finish(self._buffer)

    def _finish(self, buffer: WriteBuffer) -> None:
        self._log_losses(buffer, at_end=True)
        self._store(buffer)
        path = self._path
        if buffer.waiting or path is None:
            return
        folded = False
        with suppress(RecordingError):
            folded = buffer.finish()
        if not folded:
            self._folds.add(path)
        self._report(f"The cook is finished; its recording is {path.name}.")
        # The batch sheet was this cook's.
        self._sheet = None
        self._buffer = None
        self._watch.note_finished()
        self._idle = BetweenCooks.begin(path, self._folder)
        self.done = self._once and not self._folds

    def _look_for_cook(self, idle: BetweenCooks) -> None:
        """Goes on with a cook that a person has begun, or with the last one where its end was taken back."""
        if self._once and idle.last is not None:
            self.done = not self._folds
            return
        with suppress(RecordingError):
            path = idle.find_cook(self._folder, self._rig)
            if path is None:
                return
            self._folds.discard(path)
            buffer = self._record_into(path)
            recorder = buffer.open()
            recorder.tie_clock(self._clock.anchor())
            self._losses = LossCounter(recorder.last_seq)
            if path == idle.last:
                self._log("resumed")
                for pack in idle.packs:
                    self._losses.note_pack(pack)
                    buffer.add(pack)
            else:
                self._corrector.begin_cook()
            self._report(f"Records into {path.name}.")

    def end(self) -> None:
        """Writes what waits, and closes the file and the source."""
        if self._buffer is not None:
            self._log_losses(self._buffer, at_end=True)
            self._store(self._buffer)
            if self._buffer.waiting:
                self._report(f"{self._buffer.waiting} packs and events could not be written and are lost.", Level.ERROR)
            self._buffer.release()
        self._source.close()
