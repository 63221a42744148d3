"""A cook as it was known at one time: arrays of readings, and the events."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from monitor.model.batch import Batch
from monitor.model.records import Event, Reading, role
from monitor.model.units import is_usable_unit, to_celsius, unit_as_sent

Floats = NDArray[np.float64]

# The estimate runs from this paste temperature when nobody logged a start.
WARM_START_C = 60.0
# Whoever logs thick trace and no lid for so long never logs the lid.
LID_UNLOGGED_S = 1800.0


@dataclass(frozen=True)
class Series:
    """The readings of one channel, ordered by the time they were measured.

    measured, known: when each was measured and when it became known, Unix seconds. value: in ``unit``, NaN at a fault.
    All three have shape (n,). faults: (index into the arrays, text) of each reading that was a fault.
    tolerance_c: the tolerance of a temperature, plus or minus degC; None where the probe's type is not known.
    sent_unit: the sender's last word for the unit; empty where that is ``unit`` itself.
    """

    channel: str
    unit: str
    measured: Floats
    known: Floats
    value: Floats
    faults: tuple[tuple[int, str], ...] = ()
    tolerance_c: float | None = None
    sent_unit: str = ""

    def __len__(self) -> int:
        return len(self.measured)

    @cached_property
    def celsius(self) -> Floats | None:
        """The values in degC, shape (n,); None where the channel is no temperature."""
        return to_celsius(self.value, self.unit)


def series_from(
    channel: str,
    unit: str,
    measured: Floats,
    known: Floats,
    value: Floats,
    faults: Iterable[tuple[int, str]] = (),
    sent_unit: str = "",
) -> Series:
    """A Series with its readings sorted by the time of measurement. Arguments as in Series."""
    fault_texts = dict(faults)
    if len(measured) > 1 and np.any(np.diff(measured) < 0):
        order = np.argsort(measured, kind="stable")
        position = {int(old): new for new, old in enumerate(order)} if fault_texts else {}
        fault_texts = {position[old]: text for old, text in fault_texts.items()}
        measured, known, value = measured[order], known[order], value[order]
    return Series(channel, unit, measured, known, value, tuple(sorted(fault_texts.items())), sent_unit=sent_unit)


@dataclass(frozen=True)
class History:
    """Everything that was known of a cook at ``as_of`` (Unix seconds).

    started: when the recording began, Unix seconds. series: by channel name, readings that were known by then.
    logged: every event known by then, by the time at which it happened. withdrawn: uid -> when the event was withdrawn.
    sheets: (known, batch) of each batch sheet, oldest first. These last two may reach beyond ``as_of``; ``events`` and
    ``batch`` do not.
    """

    started: float
    as_of: float
    series: Mapping[str, Series] = field(default_factory=lambda: MappingProxyType({}))
    logged: tuple[Event, ...] = ()
    withdrawn: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    sheets: tuple[tuple[float, Batch], ...] = ()

    @cached_property
    def events(self) -> tuple[Event, ...]:
        """The events that stand at ``as_of``."""
        return tuple(e for e in self.logged if self.withdrawn.get(e.uid, math.inf) > self.as_of)

    @property
    def batch(self) -> Batch | None:
        """The batch of the latest sheet known at ``as_of``, or None."""
        return next((batch for known, batch in reversed(self.sheets) if known <= self.as_of), None)

    @property
    def sheet_known(self) -> float:
        """When the sheet of ``batch`` became known, Unix seconds; 0 without a sheet."""
        return next((known for known, _ in reversed(self.sheets) if known <= self.as_of), 0.0)

    @cached_property
    def _by_role(self) -> Mapping[str, Series]:
        found: dict[str, tuple[bool, int, Series]] = {}
        for name, series in self.series.items():
            part = role(name)
            ranked = is_usable_unit(part, series.unit), len(series.measured), series
            if part not in found or ranked[:2] > found[part][:2]:
                found[part] = ranked
        return {part: series for part, (_, _, series) in found.items()}

    def by_role(self, wanted: str) -> Series | None:
        """The channel of this role ("paste", "wall", ...), or None.

        Of several the one with the most readings in a unit that serves the role, else with the most readings.
        """
        return self._by_role.get(wanted.lower())

    def temperature_c(self, wanted: str) -> tuple[Floats, Floats]:
        """Times (Unix seconds) and temperatures (degC, NaN at a fault) of a channel, shapes (n,)."""
        series = self.by_role(wanted)
        if series is None or series.celsius is None:
            empty = np.empty(0)
            return empty, empty
        return series.measured, series.celsius

    def events_of(self, *kinds: str) -> list[Event]:
        """The events of these kinds, in the order in which they happened."""
        return [event for event in self.events if event.kind in kinds]

    def finished(self) -> float | None:
        """When the cook was logged as finished, or None."""
        ends = self.events_of("finished")
        return ends[-1].measured if ends else None


def cook_start(history: History, now: float | None = None) -> float | None:
    """When the cook begins, Unix seconds; None before it has. now: Unix seconds, ``history.as_of`` if None.

    At lid on. Where no lid was logged it begins at thick trace, once somebody has stirred or checked since or half an
    hour has passed; without thick trace but after lye in, at the first paste above 60 degC, once somebody has stirred
    or checked. Where none of these was logged, at the first paste above 60 degC.
    """
    lids = history.events_of("lid on")
    if lids:
        return lids[0].measured
    traces, lyes = history.events_of("thick trace"), history.events_of("lye in")
    if not traces and not lyes:
        return first_warm(history)
    begun = (traces or lyes)[0].measured
    is_cooking = any(event.measured >= begun for event in history.events_of("stirred", "checked"))
    if traces:
        waited_s = (history.as_of if now is None else now) - begun
        return begun if is_cooking or waited_s >= LID_UNLOGGED_S else None
    return first_warm(history, begun) if is_cooking else None


def first_warm(history: History, since: float = -math.inf) -> float | None:
    """When the paste was first above 60 degC, Unix seconds, from ``since`` (Unix seconds) on; None where it was not."""
    times, temperatures = history.temperature_c("paste")
    warm = np.flatnonzero((temperatures > WARM_START_C) & (times >= since))
    return float(times[warm[0]]) if len(warm) else None


def history_from_readings(
    readings: Sequence[Reading],
    events: Iterable[Event] = (),
    batch: Batch | None = None,
    as_of: float = math.inf,
) -> History:
    """A History built from single readings, for a few of them and for tests."""
    known_readings = [reading for reading in readings if reading.known <= as_of]
    known_events = sorted((e for e in events if e.known <= as_of), key=lambda e: (e.measured, e.known))
    series: dict[str, Series] = {}
    for channel in dict.fromkeys(reading.channel for reading in known_readings):
        own = [reading for reading in known_readings if reading.channel == channel]
        sent = own[-1].unit
        unit = unit_as_sent(sent)
        series[channel] = series_from(
            channel,
            unit.symbol,
            np.array([reading.measured for reading in own]),
            np.array([reading.known for reading in own]),
            unit.value(np.array([math.nan if reading.value is None else reading.value for reading in own])),
            ((i, reading.fault) for i, reading in enumerate(own) if reading.fault is not None),
            sent if sent != unit.symbol else "",
        )
    moments = [r.known for r in known_readings] + [e.known for e in known_events]
    started = min(moments, default=0.0)
    if math.isinf(as_of):
        as_of = max(moments, default=0.0)
    sheets = () if batch is None else ((started, batch),)
    return History(started, as_of, MappingProxyType(series), tuple(known_events), sheets=sheets)


def cut(history: History, as_of: float) -> History:
    """The same cook as it was known at an earlier time (Unix seconds)."""
    series = {}
    for name, full in history.series.items():
        keep = full.known <= as_of
        if not keep.any():
            continue
        place = np.cumsum(keep) - 1
        series[name] = replace(
            full,
            measured=full.measured[keep],
            known=full.known[keep],
            value=full.value[keep],
            faults=tuple((int(place[i]), words) for i, words in full.faults if keep[i]),
        )
    return replace(
        history,
        as_of=as_of,
        series=MappingProxyType(series),
        logged=tuple(event for event in history.logged if event.known <= as_of),
    )
