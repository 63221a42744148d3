"""A cook told line by line and answered line by line, clocked by the data alone.

Sans-IO but for the recording: lines go in, answers come out, and no clock is read.
"""

import math
import uuid
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from monitor.estimation import Estimator, Prior
from monitor.formulation import read_sheet
from monitor.model import Batch, Event, History, make_event
from monitor.probes import CalibrationRecords, convert_history
from monitor.protocol import RELATIVE_BELOW, Pack, PackError, fits, pack_of, parse_json
from monitor.runtime import Anchor, MonitorError
from monitor.session.kitchen_file import believed_kitchen_costs
from monitor.session.outlook import with_conditions
from monitor.storage import ChannelColumns, ColumnAppender, Recorder

# A commit is a flush to the disk; a stream may run thousands of times faster than life.
COMMIT_EVERY_PACKS = 1000
# A line that leaps further ahead waits for one that bears it out: the lines' own clock is all there is to go by, and it
# never goes back. A rig may be silent, and a person away, for so long and no longer (resumption.RESUMED_WITHIN_S).
LEAP_S = 43_200.0


class LineError(MonitorError):
    """A line that is not understood. why: one clause."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(f"{why}.")


class StreamSession:
    """One cook, from its first line to its end.

    sheet: the batch sheet's text. folder: where the recording goes, and whose kitchen's costs count. prior: what is
    believed before the cook, asked for at the first line.
    """

    def __init__(self, sheet: str, folder: Path, prior: Callable[[], Prior]) -> None:
        self._sheet = sheet
        self._batch: Batch = read_sheet(sheet)
        self._folder = folder
        self._prior = prior
        self._recorder: Recorder | None = None
        self._forecaster: Estimator | None = None
        self._now = -math.inf
        self._started = math.inf
        self._pending = 0
        self._finished = False
        # A pack or an event that leapt, with its time.
        self._doubted: tuple[float, Pack | tuple[str, dict[str, object]]] | None = None
        self._columns = ChannelColumns()
        self._inlets: dict[tuple[str, str], ColumnAppender] = {}
        self._events: list[Event] = []

    def take(self, line: str) -> dict[str, object] | None:
        """Takes one line; the outlook if it was a question. Raises LineError, RecordingError."""
        if not line.strip():
            return None
        try:
            value = parse_json(line)
        except PackError as error:
            raise LineError(error.why[0].upper() + error.why[1:]) from None
        if isinstance(value, list):
            self._take_pack(value)
            return None
        if not isinstance(value, dict):
            raise LineError("A line is a pack, an event or a question")
        if "ask" in value:
            return self._answer(value)
        if "event" in value:
            self._take_event(value)
            return None
        raise LineError("An object needs 'event' or 'ask'")

    def _take_pack(self, value: list[object]) -> None:
        self._refuse_after_the_end()
        try:
            # There is no arrival to count relative times from: taken from here they stay below every absolute one.
            pack = pack_of(value, RELATIVE_BELOW / 2)
        except PackError as error:
            raise LineError(f"Not a pack: {error.why}") from None
        times = [record.time for record in pack.records]
        if any(time is None or time < RELATIVE_BELOW for time in times):
            raise LineError("A pack in a stream needs absolute times")
        moment = max((time for time in times if time is not None), default=self._now)
        if math.isinf(moment):
            raise LineError("A pack in a stream needs absolute times")
        self._take_or_doubt(moment, pack)

    def _take_or_doubt(self, moment: float, line: Pack | tuple[str, dict[str, object]]) -> None:
        """Takes a pack or an event; one that leaps ahead (Unix seconds) only when the next line does too.

        One that is not borne out is stored as of now, its own time beside it.
        """
        leaps = self._recorder is not None and moment > self._now + LEAP_S
        borne_out = leaps and self._doubted is not None and abs(moment - self._doubted[0]) <= LEAP_S
        self._settle_doubt(borne_out=borne_out)
        if leaps and not borne_out:
            self._doubted = moment, line
        else:
            self._store(moment, line)

    def _settle_doubt(self, *, borne_out: bool) -> None:
        if self._doubted is not None:
            (moment, line), self._doubted = self._doubted, None
            self._store(moment if borne_out else self._now, line)

    def _store(self, moment: float, line: Pack | tuple[str, dict[str, object]]) -> None:
        if isinstance(line, Pack):
            self._store_pack(moment, line)
        else:
            self._store_event(moment, *line)

    def _store_pack(self, moment: float, pack: Pack) -> None:
        self._advance(moment)
        # The lines' clock is made of their times, so there is no other to learn a difference from.
        records = tuple(
            record
            if record.time is None or fits(record.time, self._now)
            else replace(record, time=None, sender_time=record.time)
            for record in pack.records
        )
        known = Pack(records, self._now, pack.seq, pack.digest)
        assert self._recorder is not None and self._forecaster is not None
        if not self._recorder.add_pack(known):
            return
        for record in known.records:
            inlet = self._inlets.get((record.channel, record.unit))
            if inlet is None:
                inlet = self._columns.appender(record.channel, record.unit)
                self._inlets[record.channel, record.unit] = inlet
            number = math.nan if record.value is None else record.value
            inlet.append(record.time or self._now, self._now, number, record.fault)
        self._pending += 1
        if self._pending >= COMMIT_EVERY_PACKS:
            self._commit()
            # In portions, so that a question after hours of packs is answered as soon as any other.
            self._forecaster.resampled(self._history())

    def _take_event(self, value: dict[str, object]) -> None:
        self._refuse_after_the_end()
        moment = _moment(value)
        fields = {key: field for key, field in value.items() if key not in ("t", "event")}
        kind = value["event"]
        if not isinstance(kind, str):
            raise LineError("An event's name is text")
        try:
            make_event("not stored yet", kind, moment, moment, fields)
        except ValueError as error:
            raise LineError(str(error)) from None
        self._take_or_doubt(moment, (kind, fields))

    def _store_event(self, moment: float, kind: str, fields: dict[str, object]) -> None:
        event = make_event(str(uuid.uuid4()), kind, moment, max(moment, self._now), fields)
        self._advance(moment)
        assert self._recorder is not None
        self._recorder.add_event(event)
        self._events.append(event)
        self._commit()
        if kind == "finished":
            self._finished = True
            self._recorder.finish()

    def _answer(self, value: dict[str, object]) -> dict[str, object]:
        if value["ask"] != "outlook":
            raise LineError(f"There is no answer to {str(value['ask'])[:40]!r}; ask for the 'outlook'")
        moment = _moment(value)
        # Whoever asks is answered at once, and moves the clock no further than a line may.
        leaps = self._recorder is not None and moment > self._now + LEAP_S
        if not leaps:
            self._advance(moment)
        self._commit()
        assert self._forecaster is not None
        history, now = self._history(), max(self._now, moment)
        return with_conditions(self._forecaster.estimate(history, now), history, now).as_json()

    def _refuse_after_the_end(self) -> None:
        if self._finished:
            raise LineError("The cook was finished before this line")

    def _advance(self, moment: float) -> None:
        """The data's clock goes on, never back; the recording begins with it."""
        self._now = max(self._now, moment)
        if self._forecaster is None:
            self._started = self._now
            self._forecaster = Estimator(self._prior(), *believed_kitchen_costs(self._folder))
            anchor = Anchor(self._now, self._now, "", 0.0)
            self._recorder = Recorder.create(
                self._folder, anchor, rig="stream", source="standard input", sheet=self._sheet
            )

    def _commit(self) -> None:
        self._pending = 0
        if self._recorder is not None and not self._finished:
            self._recorder.commit()

    def _history(self) -> History:
        events = sorted(self._events, key=lambda event: (event.measured, event.known))
        raw = History(
            self._started,
            self._now,
            MappingProxyType(self._columns.series()),
            tuple(events),
            sheets=((self._started, self._batch),),
        )
        # Raw words are decoded; the answers depend on the lines alone, not on calibrations that lie in the folder.
        return convert_history(raw, CalibrationRecords(), "stream")

    def close(self) -> None:
        """The input has ended: the recording is closed, so that later cooks learn from it."""
        if self._recorder is None or self._finished:
            return
        self._settle_doubt(borne_out=False)
        if self._finished:
            return
        self._recorder.end(self._now)
        self._recorder.finish()
        self._finished = True


def _moment(value: dict[str, object]) -> float:
    moment = value.get("t")
    if isinstance(moment, bool) or not isinstance(moment, int | float) or not RELATIVE_BELOW <= moment < 1e11:
        raise LineError("'t' must be Unix seconds")
    return float(moment)
