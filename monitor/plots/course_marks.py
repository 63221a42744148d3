"""What a person did and saw, on the course of a cook: stirs as ticks, checks as glasses, the rest as small rings."""

import pandas as pd
import plotly.graph_objects as go

from monitor.model import Floats
from monitor.plots.channels import clock, local_text, unix_s
from monitor.plots.course_window import LETTER, CourseWindow
from monitor.plots.glasses import HALF_GLASS_PX, glass_shapes
from monitor.plots.hill import add_planned_check
from monitor.plots.style import Palette

LANE_AXIS = "y3"
# Glasses nearer to each other than this part of the strip's width stand in two rows.
CROWDED = 0.076
# Half the width of the words at the line of now, with room after them.
HALF_NOW_PX = 46
# Shown as rings: what changes the heat or what is in the pot.
OTHERS = ("lid on", "lid off", "heat", "heat off", "added", "water added", "neutraliser added", "looked", "finished")


def add_events(
    figure: go.Figure,
    events: pd.DataFrame,
    window: CourseWindow,
    planned: tuple[float, float, str] | None,
    zone: str,
    colours: Palette,
) -> None:
    """The events that are drawn, and the planned check (as ``add_hill`` gives it)."""
    moments = unix_s(events.index)
    if planned is not None:
        add_planned_check(figure, planned, window.place(planned[0]), zone, colours)
    _add_stirs(figure, _of("stirred", events, moments, window), zone, colours)
    _add_checks(figure, events, moments, window, zone, colours)
    _add_others(figure, events, moments, window, zone, colours)


def add_planned_stir(figure: go.Figure, due: float | None, window: CourseWindow, zone: str, colours: Palette) -> None:
    """The next stir as a hollow tick with its time. due: Unix seconds."""
    if due is None or window.now is None or not window.holds(due):
        return
    _name_planned_stir(figure, due, window.now, window, zone)
    figure.add_scatter(
        x=local_text([due], zone),
        y=[_foot(figure)],
        name="stir due",
        mode="markers",
        marker={"symbol": "diamond-tall-open", "size": 15, "color": colours.ink, "line": {"width": 1.5}},
        hovertemplate=f"stir due {clock(due, zone)}<extra></extra>",
    )


def _name_planned_stir(figure: go.Figure, due: float, now: float, window: CourseWindow, zone: str) -> None:
    """The time of the next stir at its tick, but never across the line of now; without room for it none."""
    words = f"stir {clock(due, zone)}"
    at, width = due, LETTER * len(words)
    side, shift = "center", 0
    if abs(window.place(due) - window.place(now)) < 0.5 * width:
        at, side, shift = max(due, now), "left", 8
        if window.place(at) + width > 1.0:
            return
    elif window.place(due) > 1.0 - 0.5 * width:
        side, shift = "right", 8
    figure.add_annotation(
        x=local_text([at], zone)[0],
        xanchor=side,
        xshift=shift,
        y=_foot(figure),
        yanchor="bottom",
        yshift=7,
        text=words,
        showarrow=False,
    )


def event_words(row: "pd.Series[str]") -> str:
    """An event's kind with what it tells, as people read it."""
    kind = str(row["kind"])
    names = {"checked": "result", "looked": "paste", "heat": "setting", "added": "what", "neutraliser added": "reagent"}
    told = row.get(names.get(kind, ""))
    grams = row.get("grams")
    more = [] if told is None or pd.isna(told) else [str(told)]
    if grams is not None and not pd.isna(grams):
        more.append(f"{float(grams):g} g")
    return f"{kind}: {', '.join(more)}" if more else kind


def _of(kind: str, events: pd.DataFrame, moments: Floats, window: CourseWindow) -> list[float]:
    chosen = (events["kind"] == kind).to_numpy()
    return [float(moment) for moment in moments[chosen] if window.holds(float(moment))]


def _foot(figure: go.Figure) -> float:
    low, high = figure.layout.yaxis.range
    return float(low + 0.045 * (high - low))


def _add_stirs(figure: go.Figure, stirs: list[float], zone: str, colours: Palette) -> None:
    if stirs:
        figure.add_scatter(
            x=local_text(stirs, zone),
            y=[_foot(figure)] * len(stirs),
            name="stirred",
            mode="markers",
            marker={"symbol": "line-ns", "size": 14, "line": {"color": colours.ink, "width": 3}},
            hovertemplate="stirred %{x|%H:%M}<extra></extra>",
        )


def _add_checks(
    figure: go.Figure, events: pd.DataFrame, moments: Floats, window: CourseWindow, zone: str, colours: Palette
) -> None:
    chosen = (events["kind"] == "checked").to_numpy()
    checks = [
        (float(moment), str(result))
        for moment, result in zip(moments[chosen], events.get("result", events["kind"])[chosen], strict=True)
        if window.holds(float(moment))
    ]
    if not checks:
        return
    rows = _rows([window.place(moment) for moment, _ in checks])
    # Two rows, or one in the middle.
    feet = [0.03 if row else (0.52 if any(rows) else 0.16) for row in rows]
    times = local_text([moment for moment, _ in checks], zone)
    for at, foot, (_, result) in zip(times, feet, checks, strict=True):
        for shape in glass_shapes(result, at, foot, LANE_AXIS, colours.ink, colours.paper):
            figure.add_shape(shape)
    if any(rows):
        figure.update_layout(yaxis={"domain": (0.0, 0.7)}, yaxis3={"domain": (0.73, 1.0)})
    _add_first_clear(figure, [moment for moment, result in checks if result == "clear"], window, zone)
    figure.add_scatter(
        x=times,
        y=feet,
        yaxis=LANE_AXIS,
        name="checked",
        text=[result for _, result in checks],
        mode="markers",
        marker={"size": 24, "opacity": 0},
        hovertemplate="checked %{x|%H:%M}: %{text}<extra></extra>",
    )


def _add_first_clear(figure: go.Figure, clear: list[float], window: CourseWindow, zone: str) -> None:
    """The time of the first clear check, above its glass and clear of the words at the line of now."""
    if not clear:
        return
    words = f"clear {clock(clear[0], zone)}"
    at, width = clear[0], LETTER * len(words)
    # Anchored in pixels, so that the words keep to their glass on every width.
    side, shift = "center", 0
    if window.now is not None and window.place(window.now) - window.place(at) < width:
        at, side, shift = window.now, "right", -HALF_NOW_PX
    elif window.place(at) > 1.0 - 0.5 * width:
        side, shift = "right", HALF_GLASS_PX
    elif window.place(at) < 0.5 * width:
        side, shift = "left", -HALF_GLASS_PX
    figure.add_annotation(
        x=local_text([at], zone)[0],
        y=1,
        yref="paper",
        xanchor=side,
        xshift=shift,
        yanchor="bottom",
        text=words,
        showarrow=False,
    )


def _rows(places: list[float]) -> list[int]:
    """The row of each glass: the lower one (1) for what would touch its neighbour in the upper."""
    rows: list[int] = []
    for number, place in enumerate(places):
        crowded = number > 0 and place - places[number - 1] < CROWDED
        rows.append(1 - rows[-1] if crowded else 0)
    return rows


def _add_others(
    figure: go.Figure, events: pd.DataFrame, moments: Floats, window: CourseWindow, zone: str, colours: Palette
) -> None:
    chosen = events["kind"].isin(OTHERS).to_numpy()
    rows = [
        (float(moment), event_words(row))
        for moment, (_, row) in zip(moments[chosen], events[chosen].iterrows(), strict=True)
        if window.holds(float(moment))
    ]
    if rows:
        figure.add_scatter(
            x=local_text([moment for moment, _ in rows], zone),
            y=[_foot(figure)] * len(rows),
            text=[words for _, words in rows],
            name="also logged",
            mode="markers",
            marker={"symbol": "circle", "size": 8, "color": colours.paper, "line": {"color": colours.ink, "width": 2}},
            hovertemplate="%{text}<extra></extra>",
        )
