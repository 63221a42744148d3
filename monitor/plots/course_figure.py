"""The course of a cook in one strip: what the paste did, what was done to it, and when it should come clear."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from monitor.estimation import Estimate
from monitor.plots.alternative import described
from monitor.plots.channels import clock, local_text, zone_of
from monitor.plots.course_marks import add_events, add_planned_stir
from monitor.plots.course_text import course_rows, course_sentence
from monitor.plots.course_window import LETTER, CourseTemperature, CourseWindow, Span, course_temperature, window_of
from monitor.plots.hill import add_hill
from monitor.plots.style import Palette, palette, styled_figure, temperature_range

HEIGHT_PX = 320
# Left and right of its axis: fixed, so that a slider under the course can be as wide as it.
COURSE_EDGES_PX = (54, 14)
# The strip is cut, from its foot: temperature and hill, then the lane in which the checks stand.
STRIP, LANE = (0.0, 0.8), (0.82, 1.0)
AHEAD_POINTS = 25
# Where the words of one stretch after another stand in the strip's height, by their hatching: troubles may share a
# stretch, and a gap may lie within them.
NAMED_AT = {"/": (0.64,), ".": (0.48, 0.34, 0.2)}
CLEAR_GROUND = "rgba(0, 0, 0, 0)"
_NO_EVENTS = pd.DataFrame({"kind": pd.Series(dtype="str")}, index=pd.DatetimeIndex([], tz="UTC"))


def course(
    readings: pd.DataFrame,
    events: pd.DataFrame | None = None,
    estimate: Estimate | None = None,
    *,
    troubles: pd.DataFrame | None = None,
    span: Span | None = None,
    title: str = "",
    dark: bool = False,
) -> go.Figure:
    """A cook from lid on to some time after its expected end, as its clocks show it in the zone of ``readings``.

    The paste's temperature (degC) as an area, stirs as ticks at its foot, checks as drawn glasses above it, and, while
    the cook goes on, the line of now, the expected temperature (8 in 10 within the band) and the hill of the clear
    time with the planned check on it. Where more than five minutes of readings are missing it is hatched.

    readings, events: as ``monitor.OpenedCook`` gives them. estimate: of the moment that is shown as now. troubles:
    columns ``cause``, ``begin`` and ``end`` (times; NaT for one that goes on), such as rows of
    ``OpenedCook.time_loss``; each is dotted and named. span: from when to when it is drawn instead (Unix seconds), for
    a replay whose axis stays. At most 600 points a trace.

    >>> import monitor
    >>> one = monitor.open_cook("recordings/2026-05-02T090000Z-invented-smooth.cook")
    >>> at = "2026-05-02T11:00Z"
    >>> figure = course(one.readings(at), one.events(at), one.outlook(at).estimate)
    >>> [trace.name for trace in figure.data if trace.name]
    ['paste', 'expected', 'clear time', 'check planned', 'stirred', 'also logged', 'stir due']
    """
    logged = _NO_EVENTS if events is None else events
    colours, zone = palette(dark), zone_of(readings)
    window = window_of(readings, logged, estimate)
    window = window if span is None else replace(window, begin=span[0], end=span[1])
    paste = course_temperature(readings, window)
    figure = styled_figure(title, "", "", dark)
    _lay_out(figure, window, paste, zone, bool(title))
    _add_stretches(figure, window, [("no readings", span) for span in paste.gaps], "/", zone, colours)
    _add_stretches(figure, window, _named_spans(troubles, window), ".", zone, colours)
    _add_temperature(figure, paste, zone, colours)
    planned = None
    if estimate is not None and window.now is not None:
        _add_expected(figure, estimate, window, zone, colours)
        planned = add_hill(figure, estimate, (window.begin, window.end), zone, colours, yaxis="y2")
        # Before the glasses, which would have the line across their print.
        _add_now(figure, window, zone, colours)
    add_events(figure, logged, window, planned, zone, colours)
    if estimate is not None and window.now is not None:
        add_planned_stir(figure, estimate.stir_due, window, zone, colours)
    columns = ["time", "what", "value"]
    sentence = course_sentence(paste, logged, estimate, window, zone)
    return described(figure, sentence, columns, course_rows(paste, logged, estimate, troubles, window, zone))


def course_span(readings: pd.DataFrame, events: pd.DataFrame | None = None, estimate: Estimate | None = None) -> Span:
    """From when to when the course of this cook is drawn, Unix seconds. The arguments are those of ``course``."""
    window = window_of(readings, _NO_EVENTS if events is None else events, estimate)
    return window.begin, window.end


def shaded(figure: go.Figure, begin: pd.Timestamp, end: pd.Timestamp, words: str, *, dark: bool = False) -> go.Figure:
    """A copy of a course with one more stretch marked, for a touch on a bar of the lost time beside it.

    begin, end: with the zone in which the course is drawn.
    """
    copy, colours = go.Figure(figure), palette(dark)
    zone = str(begin.tz or "UTC")
    span = (begin.timestamp(), end.timestamp())
    _add_stretch(copy, words, span, ".", zone, colours)
    _name_stretch(copy, words, span, NAMED_AT["."][0], zone, colours)
    return copy


def _lay_out(figure: go.Figure, window: CourseWindow, paste: CourseTemperature, zone: str, titled: bool) -> None:
    seen = paste.level_c[np.isfinite(paste.level_c)]
    low, high = temperature_range(float(seen.min()), float(seen.max())) if len(seen) else temperature_range(20, 100)
    hidden = {"visible": False, "fixedrange": True, "range": [0.0, 1.0]}
    figure.update_xaxes(
        type="date",
        range=local_text([window.begin, window.end], zone),
        tickformat="%H:%M",
        hoverformat="%H:%M",
        nticks=6,
        showgrid=False,
        anchor="y",
    )
    figure.update_layout(
        height=HEIGHT_PX + (36 if titled else 0),
        showlegend=False,
        hovermode="x unified",
        hoverdistance=14,
        margin={"l": COURSE_EDGES_PX[0], "r": COURSE_EDGES_PX[1], "t": 60 if titled else 24, "b": 30},
        # Two degrees of room, so that a line at the edge keeps its width.
        yaxis={
            "domain": STRIP,
            "range": [low, high + 2.0],
            "ticksuffix": " °C",
            "showticksuffix": "last",
            "dtick": 20.0,
            "automargin": False,
        },
        yaxis2={**hidden, "overlaying": "y"},
        yaxis3={**hidden, "domain": LANE, "anchor": "x"},
    )


def _add_temperature(figure: go.Figure, paste: CourseTemperature, zone: str, colours: Palette) -> None:
    if not len(paste.level_c):
        return
    floor = figure.layout.yaxis.range[0]
    # Even steps are sent as one number, and single precision holds any hundredth of a degree.
    grid = {"x0": local_text([paste.begin], zone)[0], "dx": round(1000.0 * paste.step_s)}
    level = paste.level_c.astype(np.float32)
    ground = np.where(np.isnan(level), np.float32(floor), level)
    figure.add_scatter(
        **grid, y=ground, mode="lines", line={"width": 0}, fill="tozeroy", fillcolor=colours.area, hoverinfo="skip"
    )
    line = {"color": colours.series[0], "width": 2.5}
    hover = "paste %{y:.1f} °C<extra></extra>"
    figure.add_scatter(**grid, y=level, name="paste", mode="lines", line=line, hovertemplate=hover)


def _add_expected(figure: go.Figure, estimate: Estimate, window: CourseWindow, zone: str, colours: Palette) -> None:
    ahead = estimate.ahead
    shown = [i for i, moment in enumerate(ahead.times) if moment <= window.end]
    if not shown:
        return
    keep = np.unique(np.linspace(0, shown[-1], AHEAD_POINTS).round().astype(int))
    times = local_text([ahead.times[i] for i in keep], zone)
    low, middle, high = ([round(column[i], 1) for i in keep] for column in (ahead.low_c, ahead.middle_c, ahead.high_c))
    edge = {"x": times, "mode": "lines", "line": {"width": 0}, "hoverinfo": "skip"}
    figure.add_scatter(y=low, **edge)
    figure.add_scatter(y=high, fill="tonexty", fillcolor=colours.band, **edge)
    line = {"color": colours.faint, "dash": "dot", "width": 2}
    hover = "expected %{y:.0f} °C<extra></extra>"
    figure.add_scatter(x=times, y=middle, name="expected", mode="lines", line=line, hovertemplate=hover)


def _add_now(figure: go.Figure, window: CourseWindow, zone: str, colours: Palette) -> None:
    assert window.now is not None
    at = local_text([window.now], zone)[0]
    figure.add_shape(type="line", x0=at, x1=at, y0=0, y1=1, yref="paper", line={"color": colours.ink, "width": 1.5})
    words = f"now {clock(window.now, zone)}"
    figure.add_annotation(x=at, y=1, yref="paper", yanchor="bottom", text=words, showarrow=False)


def _named_spans(troubles: pd.DataFrame | None, window: CourseWindow) -> list[tuple[str, Span]]:
    if troubles is None:
        return []
    until = window.end if window.now is None else window.now
    spans = zip(troubles["cause"], troubles["begin"], troubles["end"], strict=True)
    return [
        (str(cause), (begin.timestamp(), until if pd.isna(end) else end.timestamp())) for cause, begin, end in spans
    ]


def _add_stretches(
    figure: go.Figure,
    window: CourseWindow,
    stretches: Sequence[tuple[str, Span]],
    hatching: str,
    zone: str,
    colours: Palette,
) -> None:
    shown = [
        (words, (max(first, window.begin), min(last, window.end)))
        for words, (first, last) in stretches
        if min(last, window.end) > max(first, window.begin)
    ]
    for words, span in shown:
        _add_stretch(figure, words, span, hatching, zone, colours)
    # Of several that are called the same, the longest has the words.
    for number, words in enumerate(dict.fromkeys(words for words, _ in shown)):
        longest = max((span for name, span in shown if name == words), key=lambda span: span[1] - span[0])
        height = NAMED_AT[hatching][number % len(NAMED_AT[hatching])]
        _name_stretch(figure, words, longest, height, zone, colours, window)


def _add_stretch(
    figure: go.Figure,
    words: str,
    span: Span,
    hatching: str,
    zone: str,
    colours: Palette,
) -> None:
    low, high = figure.layout.yaxis.range
    left, right = local_text(span, zone)
    figure.add_scatter(
        x=[left, right, right, left, left],
        y=[low, low, high, high, low],
        mode="lines",
        line={"color": colours.faint, "width": 1},
        fill="toself",
        fillpattern={
            "shape": hatching,
            "fgcolor": colours.faint,
            "bgcolor": CLEAR_GROUND,
            "size": 8,
            "solidity": 0.12 if hatching == "/" else 0.05,
        },
        hoveron="fills",
        text=words,
        hoverinfo="text",
        meta=words,
    )


def _name_stretch(
    figure: go.Figure,
    words: str,
    span: Span,
    height: float,
    zone: str,
    colours: Palette,
    window: CourseWindow | None = None,
) -> None:
    """Words in a stretch, upright in a narrow one. height: of the strip, 0 to 1."""
    low, high = figure.layout.yaxis.range
    narrow = window is not None and window.place(span[1]) - window.place(span[0]) < LETTER * len(words)
    figure.add_annotation(
        x=local_text([sum(span) / 2.0], zone)[0],
        # Upright words take two fifths of the strip, and keep off the ticks at its foot.
        y=low + (max(height, 0.42) if narrow else height) * (high - low),
        text=words,
        textangle=-90 if narrow else 0,
        showarrow=False,
        bgcolor=colours.paper,
    )
