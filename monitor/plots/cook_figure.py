"""One cook over time: temperatures, what was done and seen, and when the paste is expected to come clear."""

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from monitor.estimation import Estimate
from monitor.formulation import METRIC, UnitChoice
from monitor.model import is_temperature, role
from monitor.plots.style import DASHES, SYMBOLS, palette, styled_figure

# Readings are drawn as medians of half a minute, and a line is broken where more is missing than this.
BLOCK = pd.Timedelta(seconds=30)
GAP = pd.Timedelta(minutes=5)


def cook(
    readings: pd.DataFrame,
    events: pd.DataFrame | None = None,
    estimate: Estimate | None = None,
    *,
    title: str = "",
    dark: bool = False,
    units: UnitChoice = METRIC,
) -> go.Figure:
    """A cook's temperatures over the time of day, in the zone of the index of ``readings``.

    readings, events: as ``monitor.OpenedCook`` gives them, in degC. estimate: adds a band in which the paste comes
    clear in 8 of 10 cooks and, while the cook is not finished, the expected temperature. units: what the axis is in.
    Columns that hold no temperature are left out.

    >>> import monitor
    >>> one = monitor.open_cook("recordings/2026-05-02T090000Z-invented-smooth.cook")
    >>> figure = cook(one.readings(), one.events(), one.outlook().estimate, title=one.title)
    >>> [trace.name for trace in figure.data][:3]
    ['paste', 'wall', 'room']
    """
    zone = _zone(readings)
    figure = styled_figure(title, f"time of day ({zone})", f"temperature, {units.temperature_unit}", dark)
    colours = palette(dark)
    lines = {name: line.map(units.temperature_of) for name, line in _temperatures(readings).items()}
    for number, (name, line) in enumerate(lines.items()):
        style = {"color": colours.series[number % len(colours.series)], "dash": DASHES[number % len(DASHES)]}
        width = 2.5 if number == 0 else 1.5
        shown = _broken(line)
        figure.add_scatter(x=_wall(shown.index), y=shown, name=name, mode="lines", line={**style, "width": width})
    if estimate is not None:
        finished = events is not None and bool((events["kind"] == "finished").any())
        _add_expected(figure, estimate, zone, dark, units, ahead=not finished)
    if events is not None and len(events):
        _add_events(figure, events, next(iter(lines.values()), pd.Series(dtype="float64")), zone, dark)
    return figure


def _zone(frame: pd.DataFrame) -> str:
    index = frame.index
    return str(index.tz) if isinstance(index, pd.DatetimeIndex) and index.tz is not None else "UTC"


def _wall(index: pd.Index) -> pd.DatetimeIndex:
    """The times as clocks of their zone show them, because plotly draws times without any."""
    times = pd.DatetimeIndex(index)
    return times if times.tz is None else times.tz_localize(None)


def _temperatures(readings: pd.DataFrame) -> dict[str, pd.Series]:
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


def _broken(line: pd.Series) -> pd.Series:
    """The line with a hole wherever more than five minutes are missing."""
    times = pd.Series(line.index, line.index)
    before_a_gap = times[times.diff().shift(-1) > GAP]
    holes = pd.Series(np.nan, index=pd.DatetimeIndex(before_a_gap) + BLOCK)
    return pd.concat([line, holes]).sort_index() if len(holes) else line


def _add_expected(
    figure: go.Figure, estimate: Estimate, zone: str, dark: bool, units: UnitChoice, *, ahead: bool
) -> None:
    colours = palette(dark)
    forecast = estimate.ahead
    if ahead and len(forecast.times):
        times = _local(forecast.times, zone)
        low_t, middle_t, high_t = (
            [units.temperature_of(each) for each in path]
            for path in (forecast.low_c, forecast.middle_c, forecast.high_c)
        )
        edge = {"x": times, "mode": "lines", "line": {"width": 0}, "hoverinfo": "skip"}
        figure.add_scatter(y=low_t, showlegend=False, **edge)
        figure.add_scatter(y=high_t, fill="tonexty", fillcolor=colours.band, name="8 in 10 within", **edge)
        line = {"color": colours.ink, "dash": "dot", "width": 1.5}
        figure.add_scatter(x=times, y=middle_t, name="expected", mode="lines", line=line)
    low, middle, high = estimate.clear_at
    if low is None or middle is None:
        return
    times = _local([low, middle, high if high is not None else low + 86_400.0], zone)
    figure.add_vrect(x0=times[0], x1=times[2], fillcolor=colours.band, line_width=0)
    figure.add_vline(x=times[1], line={"color": colours.ink, "dash": "dash", "width": 1.5})
    figure.add_annotation(x=times[1], y=1.0, yref="paper", yanchor="bottom", text="clear, 8 in 10", showarrow=False)


def _local(moments: list[float] | tuple[float, ...], zone: str) -> pd.DatetimeIndex:
    return pd.to_datetime(list(moments), unit="s", utc=True).tz_convert(zone).tz_localize(None)


def _add_events(figure: go.Figure, events: pd.DataFrame, line: pd.Series, zone: str, dark: bool) -> None:
    """Markers on the first line, or along the axis where there is none."""
    colours = palette(dark)
    results = events["result"] if "result" in events.columns else pd.Series(index=events.index, dtype="object")
    names = events["kind"].where(results.isna(), events["kind"] + ": " + results.astype("str"))
    seconds = pd.DatetimeIndex(events.index).as_unit("us").asi8
    if len(line):
        level = np.interp(seconds, pd.DatetimeIndex(line.index).as_unit("us").asi8, line.to_numpy())
    else:
        level = np.zeros(len(events))
    times = _wall(pd.DatetimeIndex(events.index).tz_convert(zone))
    for name, symbol in SYMBOLS.items():
        chosen = (names == name).to_numpy()
        if chosen.any():
            marker = {"symbol": symbol, "size": 11, "color": colours.paper, "line": {"color": colours.ink, "width": 2}}
            figure.add_scatter(x=times[chosen], y=level[chosen], name=name, mode="markers", marker=marker)
