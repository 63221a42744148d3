"""One cook over time: temperatures, what was done and seen, and when the paste is expected to come clear."""

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from monitor.estimation import Estimate
from monitor.formulation import METRIC, UnitChoice
from monitor.plots.alternative import described
from monitor.plots.channels import broken, local_times, shorter, temperatures_c, wall_times, zone_of
from monitor.plots.style import DASHES, SYMBOLS, palette, styled_figure


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
    zone = zone_of(readings)
    figure = styled_figure(title, f"time of day ({zone})", f"temperature, {units.temperature_unit}", dark)
    colours = palette(dark)
    lines = {name: line.map(units.temperature_of) for name, line in temperatures_c(readings).items()}
    for number, (name, line) in enumerate(lines.items()):
        style = {"color": colours.series[number % len(colours.series)], "dash": DASHES[number % len(DASHES)]}
        width = 2.5 if number == 0 else 1.5
        shown = broken(line)
        figure.add_scatter(
            x=shorter(wall_times(shown.index)),
            y=shown.round(2),
            name=name,
            mode="lines",
            line={**style, "width": width},
        )
    if estimate is not None:
        finished = events is not None and bool((events["kind"] == "finished").any())
        _add_expected(figure, estimate, zone, dark, units, ahead=not finished)
    if events is not None and len(events):
        _add_events(figure, events, next(iter(lines.values()), pd.Series(dtype="float64")), zone, dark)
    figure.update_xaxes(fixedrange=False)
    figure.update_yaxes(fixedrange=False)
    figure.update_layout(dragmode="zoom", margin={"b": 130}, legend={"y": -0.24})
    unit = units.temperature_unit
    spans = [
        [str(one), f"{line.min():.1f} {unit}", f"{line.max():.1f} {unit}"] for one, line in lines.items() if len(line)
    ]
    sentence = "; ".join(f"{one} {low} to {high}" for one, low, high in spans) or "no temperature was read"
    return described(figure, f"Temperatures of the cook: {sentence}.", ["channel", "lowest", "highest"], spans)


def _add_expected(
    figure: go.Figure, estimate: Estimate, zone: str, dark: bool, units: UnitChoice, *, ahead: bool
) -> None:
    colours = palette(dark)
    forecast = estimate.ahead
    if ahead and len(forecast.times):
        times = local_times(forecast.times, zone)
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
    times = local_times([low, middle, high if high is not None else low + 86_400.0], zone)
    figure.add_vrect(x0=times[0], x1=times[2], fillcolor=colours.band, line_width=0)
    figure.add_vline(x=times[1], line={"color": colours.ink, "dash": "dash", "width": 1.5})
    figure.add_annotation(x=times[1], y=1.0, yref="paper", yanchor="bottom", text="clear, 8 in 10", showarrow=False)


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
    times = wall_times(pd.DatetimeIndex(events.index).tz_convert(zone))
    for name, symbol in SYMBOLS.items():
        chosen = (names == name).to_numpy()
        if chosen.any():
            marker = {"symbol": symbol, "size": 11, "color": colours.paper, "line": {"color": colours.ink, "width": 2}}
            figure.add_scatter(x=times[chosen], y=level[chosen], name=name, mode="markers", marker=marker)
