"""The hill of the clear time: how likely the paste is to come clear when, with the planned check standing on it."""

import numpy as np
import plotly.graph_objects as go

from monitor.estimation import ClearDensity, Estimate
from monitor.model import Floats
from monitor.plots.alternative import described
from monitor.plots.channels import clock, local_text
from monitor.plots.course_window import LETTER, Span
from monitor.plots.glasses import HALF_GLASS_PX, PLANNED, glass_shapes
from monitor.plots.style import Palette, palette, styled_figure

# Plans for the cooker and needs come in steps, which leave teeth in a density by five minutes; nobody should read them.
SMOOTH_S = 600.0
# Part of the strip's height that the hill takes; above it there is room for the glass.
HILL_SHARE = 0.5
MOST_POINTS = 150
HILL_WORDS = ("clear,", "8 in 10")
# Words anchored at one side begin or end with the glass beneath them.
SIDES = {"left": -1, "center": 0, "right": 1}


def clear_time(estimate: Estimate, *, zone: str = "UTC", title: str = "", dark: bool = False) -> go.Figure:
    """The hill alone: the probability of coming clear, by five minutes, over the time of day in a zone.

    Eight in ten of it are shaded. Empty where ``estimate.clear_density`` is.

    >>> import monitor
    >>> one = monitor.open_cook("recordings/2026-05-02T090000Z-invented-smooth.cook")
    >>> figure = clear_time(one.outlook("2026-05-02T11:00Z").estimate)
    >>> [trace.name for trace in figure.data if trace.name]
    ['clear time', 'check planned']
    """
    figure, colours = styled_figure(title, "", "", dark), palette(dark)
    edges = estimate.clear_density.edges
    figure.update_xaxes(type="date", tickformat="%H:%M", hoverformat="%H:%M", nticks=6, showgrid=False)
    figure.update_yaxes(visible=False, range=[0.0, 0.85])
    figure.update_layout(height=220, showlegend=False, hovermode="x unified", hoverdistance=14)
    if edges:
        high = estimate.clear_at[2]
        last = min(edges[-1], (high if high is not None else edges[-1]) + 3600.0)
        first = min(edges[0], estimate.t)
        figure.update_xaxes(range=local_text([first, last], zone))
        planned = add_hill(figure, estimate, (first, last), zone, colours)
        if planned is not None:
            add_planned_check(figure, planned, (planned[0] - first) / (last - first), zone, colours)
    rows = [
        [clock(moment, zone), f"{share:.0%}"]
        for moment, share in zip(edges[3::3], np.cumsum(estimate.clear_density.probability)[2::3], strict=False)
    ]
    return described(figure, clear_sentence(estimate, zone), ["time", "chance of clear by then"], rows)


def clear_sentence(estimate: Estimate, zone: str) -> str:
    """When the paste should come clear, as a sentence.

    >>> clear_sentence(Estimate(0.0, None, None, None, (0, 0, 0), (None, None, None), 0.0, None, None, {}), "UTC")
    'No clear time is expected.'
    """
    low, middle, high = estimate.clear_at
    if low is None or middle is None or not estimate.clear_density.edges:
        return "No clear time is expected."
    until = f"between {clock(low, zone)} and {clock(high, zone)}" if high is not None else f"from {clock(low, zone)} on"
    check = "" if estimate.check_due is None else f"; a check is planned at {clock(estimate.check_due, zone)}"
    return f"Clear is expected about {clock(middle, zone)}, in 8 of 10 cooks {until}{check}."


def add_hill(
    figure: go.Figure, estimate: Estimate, shown: Span, zone: str, colours: Palette, *, yaxis: str = "y"
) -> tuple[float, float, str] | None:
    """Draws the density on an axis from 0 to 1, within what is shown (begin and end, Unix seconds).

    Returns where the planned check stands on it: the moment, the height and the axis; None where no check is planned.
    """
    begin, end = shown
    at, height, by = _profile(estimate.clear_density, end)
    due = estimate.check_due
    if len(at):
        low, _, high = estimate.clear_at
        inside = (at >= (low or at[0])) & (at <= (high or np.inf))
        times = local_text(at, zone)
        likely = [moment for moment, chosen in zip(times, inside, strict=True) if chosen]
        figure.add_scatter(
            x=likely,
            y=height[inside].round(3).tolist(),
            yaxis=yaxis,
            mode="lines",
            line={"width": 0},
            fill="tozeroy",
            fillcolor=colours.hill,
            hoverinfo="skip",
        )
        figure.add_scatter(
            x=times,
            y=height.round(3).tolist(),
            customdata=(100.0 * by).round().astype(int).tolist(),
            name="clear time",
            yaxis=yaxis,
            mode="lines",
            line={"color": colours.series[1], "width": 2.5},
            hovertemplate="clear by then: %{customdata} in 100<extra></extra>",
        )
        # Words wider than what is still to come of the hill would lie across its line or that of now.
        coming = inside & (at > estimate.t)
        if coming.any() and np.ptp(at[coming]) > LETTER * len(HILL_WORDS[1]) * (end - begin):
            _name_hill(figure, at[coming], height[coming], zone, yaxis)
    if due is None or due > end:
        return None
    return due, float(np.interp(due, at, height, 0.0, 0.0)) if len(at) else 0.0, yaxis


def _name_hill(figure: go.Figure, at: Floats, height: Floats, zone: str, yaxis: str) -> None:
    """What the hill is, in words within its likely part."""
    figure.add_annotation(
        x=local_text([float(np.average(at, weights=height))], zone)[0],
        y=0.55 * float(height.max()),
        yref=yaxis,
        text="<br>".join(HILL_WORDS),
        showarrow=False,
    )


def add_planned_check(
    figure: go.Figure, planned: tuple[float, float, str], place: float, zone: str, colours: Palette
) -> None:
    """The glass of the planned check, standing on the hill. place: of its moment, 0 at the left edge to 1."""
    moment, height, yaxis = planned
    at = local_text([moment], zone)[0]
    words = f"check {clock(moment, zone)}"
    for shape in glass_shapes(PLANNED, at, height, yaxis, colours.ink, colours.paper):
        figure.add_shape(shape)
    # One that is due at the very edge keeps its words inside.
    side = "left" if place < 0.15 else "right" if place > 0.85 else "center"
    figure.add_annotation(
        x=at,
        y=height,
        yref=yaxis,
        text=words,
        showarrow=False,
        xanchor=side,
        xshift=HALF_GLASS_PX * SIDES[side],
        yanchor="bottom",
        yshift=34,
        bgcolor=colours.paper,
    )
    figure.add_scatter(
        x=[at],
        y=[height],
        yaxis=yaxis,
        name="check planned",
        mode="markers",
        marker={"size": 24, "opacity": 0},
        hovertemplate="check planned<extra></extra>",
    )


def _smoothed(probability: Floats, step_s: float, reach: int) -> Floats:
    """The density seen through a normal window of SMOOTH_S, longer by ``reach`` steps at both ends; its sum stays."""
    window = np.exp(-0.5 * (step_s * np.arange(-reach, reach + 1) / SMOOTH_S) ** 2)
    smooth: Floats = np.convolve(probability, window / window.sum())
    return smooth


def _profile(density: ClearDensity, end: float) -> tuple[Floats, Floats, Floats]:
    """Moments (Unix seconds), heights (0 to HILL_SHARE) and the chance of clear by then, shape (n,) each."""
    edges, probability = np.array(density.edges), np.array(density.probability)
    if not len(probability) or probability.max() <= 0.0:
        return np.empty(0), np.empty(0), np.empty(0)
    step_s = float(edges[1] - edges[0])
    reach = int(np.ceil(3.0 * SMOOTH_S / step_s))
    at = edges[0] + step_s * (0.5 + np.arange(-reach, len(probability) + reach))
    height = _smoothed(probability, step_s, reach)
    height *= HILL_SHARE / height.max()
    by = np.interp(at, edges, np.concatenate([[0.0], np.cumsum(probability)]))
    keep = np.flatnonzero(at <= end)
    keep = keep[:: max(1, -(-len(keep) // MOST_POINTS))]
    return at[keep], height[keep], by[keep]
