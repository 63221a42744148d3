"""Live samples of one channel, from a running cook or a source, while its probe goes from one bath to the next."""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from monitor.model import History, Reading, history_from_readings
from monitor.probes import (
    CalibrationRecords,
    StabilityDetector,
    StabilityState,
    Stable,
    TimedOut,
    Unsettled,
    convert_history,
)
from monitor.protocol import Pack
from monitor.runtime import Clock, MonitorError
from monitor.session import Cook
from monitor.sources import Lost, Source

# A device that sends every few seconds is heard within this time, a search of the ports included.
SILENT_S = 20.0
POLL_S = 0.25
HISTORY_S = 600.0


class UnsteadyReadingError(MonitorError):
    """No stable reading was obtained. why: one sentence that says what was seen and what to try."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


@dataclass(frozen=True, slots=True)
class ChannelSample:
    """One reading of the channel. moment: Unix seconds, as measured. value: None at a fault, which ``fault`` names."""

    moment: float
    unit: str
    value: float | None
    fault: str | None


def samples_after(
    history: History, records: CalibrationRecords, rig: str, channel: str, after: float
) -> list[ChannelSample]:
    """The readings of a channel measured later than ``after`` (Unix seconds), converted by ``records`` only."""
    series = convert_history(history, records, rig).by_role(channel)
    if series is None or not len(series):
        return []
    faults = dict(series.faults)
    return [
        ChannelSample(
            float(series.measured[i]),
            series.unit,
            None if math.isnan(series.value[i]) else float(series.value[i]),
            faults.get(i),
        )
        for i in range(int(series.measured.searchsorted(after, side="right")), len(series))
    ]


def feed_detector(
    detector: StabilityDetector, sample: ChannelSample, units: Mapping[str, float], channel: str
) -> StabilityState:
    """Adds one reading to a stability detector and returns its state.

    Parameters
    ----------
    units : the accepted units, each with the factor to the detector's unit.

    Raises UnsteadyReadingError when the reading has another unit.
    """
    if sample.unit not in units:
        raise UnsteadyReadingError(
            f"The channel {channel} comes in {sample.unit or 'no unit'}, and {' or '.join(units)} is needed here: "
            "look at the sketch, or say which thermocouple it is with calibrate fitting."
        )
    return detector.add(
        sample.moment, None if sample.value is None else sample.value * units[sample.unit], sample.fault
    )


def silence_text(channel: str) -> str:
    """One sentence that says that a channel sends nothing."""
    return (
        f"No reading of the channel {channel} came in {SILENT_S:.0f} s: look at the cable, the channel's name, and "
        "whether the logger or another program holds the port."
    )


def detect_stability(
    samples: Sequence[ChannelSample], detector: StabilityDetector, units: Mapping[str, float], channel: str
) -> StabilityState:
    """The state after the readings since a measurement began, up to the first final one, so that every call agrees.

    Raises UnsteadyReadingError when they have another unit.
    """
    state: StabilityState = Unsettled(None, None)
    for sample in samples:
        state = feed_detector(detector, sample, units, channel)
        if not isinstance(state, Unsettled):
            break
    return state


class LiveChannel:
    """The readings of one channel as they arrive, converted by ``records`` only."""

    def __init__(
        self, read_history: Callable[[], History], clock: Clock, channel: str, records: CalibrationRecords, rig: str
    ) -> None:
        self._read_history = read_history
        self._clock = clock
        self.channel = channel
        self._records = records
        self._rig = rig
        self._last_moment = -math.inf
        self.discard_pending()

    def discard_pending(self) -> None:
        """Discards what has arrived so far, such as readings from before the probe was in the bath."""
        self.new_samples()

    def new_samples(self) -> list[ChannelSample]:
        """The readings that arrived since the last call."""
        found = samples_after(self._read_history(), self._records, self._rig, self.channel, self._last_moment)
        self._last_moment = found[-1].moment if found else self._last_moment
        return found

    def wait_until_stable(
        self,
        detector: StabilityDetector,
        units: dict[str, float],
        on_sample: Callable[[ChannelSample, StabilityState], None],
    ) -> Stable:
        """Waits until the channel is stable.

        Parameters
        ----------
        units : the accepted units, each with the factor to the detector's unit.
        on_sample : called with each reading and the state after it.

        Raises UnsteadyReadingError when the channel is silent, has another unit, or does not become stable.
        """
        heard_s = self._clock.real_s()
        while True:
            samples = self.new_samples()
            for sample in samples:
                state = feed_detector(detector, sample, units, self.channel)
                on_sample(sample, state)
                if isinstance(state, TimedOut):
                    raise UnsteadyReadingError(state.why)
                if not isinstance(state, Unsettled):
                    return state
            if samples:
                heard_s = self._clock.real_s()
            elif self._clock.real_s() - heard_s > SILENT_S:
                raise UnsteadyReadingError(silence_text(self.channel))
            self._clock.wait_until(self._clock.now() + POLL_S)


def recorded_history(cook: Cook) -> Callable[[], History]:
    """A function that returns the raw readings as the logger stores them."""

    def read_history() -> History:
        cook.look()
        return cook.raw()

    return read_history


class SourceHistory:
    """The last ten minutes of readings straight from a source. Raises UnsteadyReadingError when the source is lost."""

    def __init__(self, source: Source, clock: Clock) -> None:
        self._source = source
        self._clock = clock
        self._readings: list[Reading] = []
        self._began_s = clock.real_s()

    def __call__(self) -> History:
        heard = self._source.poll(0.0)
        packs = [item for item in heard if isinstance(item, Pack)]
        self._source.stored(packs)
        self._readings += _readings(packs)
        for item in heard:
            if isinstance(item, Lost) and (self._readings or self._clock.real_s() - self._began_s > SILENT_S):
                raise UnsteadyReadingError(item.reason)
        oldest = self._clock.now() - HISTORY_S
        self._readings = [reading for reading in self._readings if reading.known >= oldest]
        return history_from_readings(self._readings)


def _readings(packs: Iterable[Pack]) -> list[Reading]:
    return [
        Reading(r.channel, r.unit, pack.arrived if r.time is None else r.time, pack.arrived, r.value, r.fault)
        for pack in packs
        for r in pack.records
    ]
