"""A cook's readings and events as pandas frames, and back.

``readings_frame`` has one row a moment and one column a channel. The column's name ends with the unit (``paste_c``,
``wall_f``, ``ph_v``); ``frame.attrs["units"]`` gives the unit of each column by the names of SenML (RFC 8428 section
12.1), and ``frame.attrs["channels"]`` the channel's own name. A reading that was a fault is NaN there; what the sender
said of it is in ``faults_frame``. The index is named ``time``, in UTC, in nanoseconds (microseconds where a time lies
beyond April 2262, which 64 bits of nanoseconds do not reach).
"""

import math
import re
from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from monitor.model import Batch, Event, Floats, History, Series, series_from, unit_as_sent

# What 64 bits of nanoseconds hold: up to April 2262.
LAST_NS_S = 9_223_372_036
# SenML's unit -> how a column's name ends.
SUFFIXES: Mapping[str, str] = MappingProxyType({"Cel": "c", "K": "k", "degF": "f", "V": "v", "mV": "mv", "pH": "ph"})
# How an event's field ends that is a number -> its unit.
_FIELD_UNITS: Mapping[str, str] = MappingProxyType(
    {
        "c": "Cel",
        "g": "g",
        "grams": "g",
        "ml": "mL",
        "l": "mol/L",
        "percent": "%",
        "minutes": "min",
        "s": "s",
        "at": "s",
        "ph": "pH",
    }
)
_NOT_PLAIN = re.compile(r"[^0-9a-z]+")


def nanoseconds(moments: Floats) -> NDArray[np.int64]:
    """Unix seconds, shape (n,), as whole nanoseconds. Raises ValueError beyond April 2262.

    A double of today's Unix seconds steps by 238 ns, so nothing is lost.

    >>> nanoseconds(np.array([1773484800.25])).tolist()
    [1773484800250000000]
    """
    if len(moments) and not np.all(np.abs(moments) <= LAST_NS_S):
        raise ValueError("a time is beyond the year 2262, which 64 bits of nanoseconds do not reach")
    whole = np.floor(moments)
    return whole.astype(np.int64) * 1_000_000_000 + np.rint((moments - whole) * 1e9).astype(np.int64)


def utc_index(moments: Floats, name: str = "time") -> pd.DatetimeIndex:
    """Unix seconds, shape (n,), as times in UTC; NaN becomes NaT.

    >>> utc_index(np.array([1773484800.25]))[0].isoformat()
    '2026-03-14T10:40:00.250000+00:00'
    """
    missing = np.isnan(moments)
    given = np.where(missing, 0.0, moments)
    if np.all(np.abs(given) <= LAST_NS_S):
        times = nanoseconds(given).view("datetime64[ns]")
        times[missing] = np.datetime64("NaT", "ns")
    else:
        times = np.rint(given * 1e6).astype(np.int64).view("datetime64[us]")
        times[missing] = np.datetime64("NaT", "us")
    return pd.DatetimeIndex(times, name=name).tz_localize("UTC")


def unix_seconds(index: pd.DatetimeIndex) -> Floats:
    """Times as Unix seconds, shape (n,); one without a zone counts as UTC. Undoes ``utc_index`` exactly."""
    utc = index.tz_localize("UTC") if index.tz is None else index
    per_second = {"s": 1, "ms": 1_000, "us": 1_000_000, "ns": 1_000_000_000}[utc.unit]
    whole, rest = np.divmod(utc.asi8, per_second)
    seconds: Floats = whole + rest / per_second
    return seconds


def readings_frame(history: History) -> pd.DataFrame:
    """The readings of a history: one row a moment, one column of 64-bit floats a channel, NaN where it has none.

    Where a channel was read twice at one moment that moment has two rows, in the order in which they came.
    """
    columns: dict[str, Series] = {}
    for channel, series in history.series.items():
        columns[_free(column_name(channel, series.unit), columns)] = series
    keyed = {name: pd.Series(series.value, index=_numbered(series.measured)) for name, series in columns.items()}
    if keyed:
        frame = pd.concat(keyed, axis=1, sort=True)
        frame.index = utc_index(frame.index.get_level_values(0).to_numpy(dtype=np.float64))
    else:
        frame = pd.DataFrame(index=utc_index(np.empty(0)))
    frame.attrs["units"] = {name: series.unit for name, series in columns.items()}
    frame.attrs["channels"] = {name: series.channel for name, series in columns.items()}
    return frame


def _numbered(measured: Floats) -> pd.MultiIndex:
    """Moments with the number of each among those of the same moment, so that every row is told apart."""
    numbers = pd.Series(measured).groupby(measured).cumcount()
    return pd.MultiIndex.from_arrays([measured, numbers])


def column_name(channel: str, unit: str) -> str:
    """A column's name: the channel in small letters with its unit behind it.

    >>> column_name("paste", "Cel"), column_name("urn:dev:rig:Wall", "degF"), column_name("ph", "pH")
    ('paste_c', 'urn_dev_rig_wall_f', 'ph')
    """
    stem = _NOT_PLAIN.sub("_", channel.lower()).strip("_")
    suffix = SUFFIXES.get(unit, _NOT_PLAIN.sub("_", unit.lower()).strip("_"))
    return stem if suffix in ("", stem) else f"{stem}_{suffix}"


def _free(name: str, taken: Mapping[str, object]) -> str:
    """The name, with a number behind it where two channels differ by signs alone."""
    number = 2
    free = name
    while free in taken:
        free, number = f"{name}_{number}", number + 1
    return free


def faults_frame(history: History) -> pd.DataFrame:
    """The readings that were faults: index ``time``, columns ``channel`` and ``fault`` (the sender's words)."""
    rows = [
        (float(series.measured[i]), series.channel, text)
        for series in history.series.values()
        for i, text in series.faults
    ]
    rows.sort(key=lambda row: row[0])
    times = utc_index(np.array([row[0] for row in rows], dtype=np.float64))
    return pd.DataFrame(
        {"channel": [row[1] for row in rows], "fault": [row[2] for row in rows]}, index=times, dtype="str"
    )


def events_frame(history: History) -> pd.DataFrame:
    """The events of a history, by the time at which they happened.

    Columns: ``kind``; ``known``, the time at which it was logged; ``uid``; and each field that any of them has, with
    its unit in its name (``sample_g``, ``temperature_c``, ``minutes``) and in ``attrs["units"]``. A field of numbers
    is a column of floats, NaN where an event lacks it.
    """
    events = history.events
    fields = list(dict.fromkeys(name for event in events for name in event.fields))
    frame = pd.DataFrame(
        {
            "kind": pd.Series([event.kind for event in events], dtype="str"),
            "known": utc_index(np.array([event.known for event in events], dtype=np.float64)),
            "uid": pd.Series([event.uid for event in events], dtype="str"),
        }
    )
    units: dict[str, str] = {}
    for name in fields:
        cells = [event.fields.get(name) for event in events]
        if any(isinstance(cell, str) for cell in cells):
            frame[name] = pd.Series(cells, dtype="str")
        else:
            frame[name] = pd.Series(cells, dtype="float64")
            units[name] = _FIELD_UNITS.get(name.rsplit("_", 1)[-1], "1")
    frame.index = utc_index(np.array([event.measured for event in events], dtype=np.float64))
    frame.attrs["units"] = units
    return frame


def history_from_frames(
    readings: pd.DataFrame, events: pd.DataFrame | None = None, batch: Batch | None = None, at: float | None = None
) -> History:
    """A history of frames like those of ``readings_frame`` and ``events_frame``, so that a model can be asked of them.

    readings: its index holds the times; each column is a channel, by ``attrs`` where they name it, else by its own
    name (``paste_c``). events: needs ``kind``; may have ``known``, ``uid`` and the fields. at: what was measured later
    (Unix seconds) is left out; by default everything is in. Raises ValueError where a frame is not so.
    """
    if not isinstance(readings.index, pd.DatetimeIndex):
        raise ValueError(f"readings has an index of {readings.index.dtype}; it must be times")
    times = unix_seconds(readings.index)
    found = _events(events) if events is not None else []
    moments = [*times.tolist(), *(event.measured for event in found)]
    as_of = max(moments, default=0.0) if at is None else at
    series = {}
    for column in readings.columns:
        channel, unit = _channel(readings, str(column))
        value = readings[column].to_numpy(dtype=np.float64)
        keep = ~np.isnan(value) & (times <= as_of)
        if keep.any():
            sent = unit_as_sent(unit)
            series[channel] = series_from(channel, sent.symbol, times[keep], times[keep], sent.value(value[keep]))
    started = min(moments, default=0.0)
    logged = tuple(sorted((e for e in found if e.measured <= as_of), key=lambda e: (e.measured, e.known)))
    sheets = () if batch is None else ((started, batch),)
    return History(started, as_of, MappingProxyType(series), logged, sheets=sheets)


def _channel(frame: pd.DataFrame, column: str) -> tuple[str, str]:
    """A column's channel and unit. Raises ValueError where neither ``attrs`` nor its name tells the unit."""
    unit = frame.attrs.get("units", {}).get(column)
    channel = frame.attrs.get("channels", {}).get(column)
    stem, _, suffix = column.rpartition("_")
    if unit is None:
        unit = (
            "pH" if column == "ph" else next((name for name, end in SUFFIXES.items() if end == suffix and stem), None)
        )
    if unit is None:
        raise ValueError(f"column {column!r} does not name its unit; write such as paste_c, wall_f, ph_v")
    named = stem if stem and suffix == SUFFIXES.get(unit) else column
    return str(channel or named), str(unit)


def _events(frame: pd.DataFrame) -> list[Event]:
    if not isinstance(frame.index, pd.DatetimeIndex) or "kind" not in frame.columns:
        raise ValueError("events must have times as its index and a column 'kind'")
    times = unix_seconds(frame.index)
    known = unix_seconds(pd.DatetimeIndex(frame["known"])) if "known" in frame.columns else times
    uids = frame["uid"].tolist() if "uid" in frame.columns else [f"row-{i:08d}" for i in range(len(frame))]
    fields = [name for name in frame.columns if name not in ("kind", "known", "uid")]
    rows = frame[fields].to_dict("records") if fields else [{}] * len(frame)
    return [
        Event(str(uid), str(kind), float(moment), float(late), MappingProxyType(_present(row)))
        for uid, kind, moment, late, row in zip(uids, frame["kind"], times, known, rows, strict=True)
    ]


def _present(row: Mapping[object, object]) -> dict[str, str | float]:
    """The fields that an event has: those that are neither None nor NaN."""
    found: dict[str, str | float] = {}
    for name, value in row.items():
        if isinstance(value, str):
            found[str(name)] = value
        elif isinstance(value, int | float) and not math.isnan(value):
            found[str(name)] = float(value)
    return found
