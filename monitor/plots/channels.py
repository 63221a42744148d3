"""Temperatures out of frames, and moments as plotly draws them: as clocks of a zone show them."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from monitor.model import BLOCK_S, Floats, is_temperature, role

BLOCK = pd.Timedelta(seconds=BLOCK_S)
# A line is broken where more is missing than this.
GAP = pd.Timedelta(minutes=5)


def zone_of(frame: pd.DataFrame) -> str:
    """The zone of the frame's times; UTC where they have none."""
    index = frame.index
    return str(index.tz) if isinstance(index, pd.DatetimeIndex) and index.tz is not None else "UTC"


def wall_times(index: pd.Index) -> pd.DatetimeIndex:
    """The times as clocks of their zone show them, because plotly draws times without any."""
    times = pd.DatetimeIndex(index)
    return times if times.tz is None else times.tz_localize(None)


def local_times(moments: Sequence[float] | Floats, zone: str) -> pd.DatetimeIndex:
    """Unix seconds as clocks of a zone show them."""
    return pd.to_datetime(list(moments), unit="s", utc=True).tz_convert(zone).tz_localize(None)


def local_text(moments: Sequence[float] | Floats, zone: str) -> list[str]:
    """The same as text, which every browser draws as it stands: a number of milliseconds it would move to its own zone.

    >>> local_text([0.0], "Asia/Kolkata")
    ['1970-01-01 05:30:00']
    """
    return shorter(local_times(moments, zone)).tolist()


def clock(moment: float, zone: str) -> str:
    """The time of day of Unix seconds.

    >>> clock(0.0, "Asia/Kolkata")
    '05:30'
    """
    return f"{local_times([moment], zone)[0]:%H:%M}"


def shorter(times: pd.DatetimeIndex) -> "pd.Index[str]":
    """Times to the second, as text of two thirds of the length that plotly would send.

    >>> shorter(pd.DatetimeIndex(["2026-05-02T09:00:30"]))[0]
    '2026-05-02 09:00:30'
    """
    return times.strftime("%Y-%m-%d %H:%M:%S")


def unix_s(index: pd.Index) -> Floats:
    """The times of an index as Unix seconds; those without a zone count as UTC."""
    times = pd.DatetimeIndex(index)
    times = times.tz_localize("UTC") if times.tz is None else times
    seconds: Floats = times.as_unit("us").asi8 / 1e6
    return seconds


def temperatures_c(readings: pd.DataFrame) -> dict[str, pd.Series]:
    """Each channel in degC as medians of half a minute, the paste first."""
    units, channels = readings.attrs.get("units", {}), readings.attrs.get("channels", {})
    found = {}
    for column in readings.columns:
        if is_temperature(units.get(column, "Cel" if str(column).endswith("_c") else "")):
            values = readings[column].dropna()
            if units.get(column) == "K":
                values = values - 273.15
            name = channels.get(column, str(column).removesuffix("_c"))
            found[str(name)] = values.groupby(pd.DatetimeIndex(values.index).floor(BLOCK)).median()
    return dict(sorted(found.items(), key=lambda item: role(item[0]) != "paste"))


def broken(line: pd.Series) -> pd.Series:
    """The line with a hole wherever more than five minutes are missing."""
    times = pd.Series(line.index, line.index)
    before_a_gap = times[times.diff().shift(-1) > GAP]
    holes = pd.Series(np.nan, index=pd.DatetimeIndex(before_a_gap) + BLOCK)
    return pd.concat([line, holes]).sort_index() if len(holes) else line
