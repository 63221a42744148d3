"""Cooks compared, and what a kitchen has learned of its need."""

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from monitor.estimation import weighted_quantiles
from monitor.model import Floats
from monitor.plots.alternative import described
from monitor.plots.style import DASHES, SCALE_C, palette, styled_figure

# A trace holds no more points than a phone can show.
MOST_POINTS = 400
_NOT_CLEAR = "not clear"
_NEED_TICKS_MIN = (60, 90, 120, 160, 220, 300, 420)


def compare(courses: Mapping[str, pd.DataFrame], *, title: str = "", dark: bool = False) -> go.Figure:
    """Cooks laid over each other: the paste's temperature (degC) over hours on their common axis.

    courses: name -> frame as ``monitor.OpenedCook.aligned`` gives it, all by the same alignment. A line is broken
    where readings are missing. A ring stands where the first check read clear, a small cross at each that did not.
    Raises ValueError where the alignments differ.

    >>> course = pd.DataFrame({"paste_c": [60.0, 94.0]}, index=pd.Index([0.0, 3600.0], name="elapsed_s"))
    >>> compare({"first": course}).data[0].x.tolist()
    [0.0, 1.0]
    """
    alignments = {str(course.attrs.get("alignment", course.index.name)) for course in courses.values()}
    if len(alignments) > 1:
        raise ValueError(f"courses are aligned by {' and '.join(sorted(alignments))}; they must be by one")
    alignment = next(iter(alignments), "")
    axis = "equivalent hours at 95 °C" if alignment == "equivalent time" else f"hours since {alignment}"
    figure, colours = styled_figure(title, axis, "paste, °C", dark), palette(dark)
    rows = []
    for number, (name, course) in enumerate(courses.items()):
        hours, level = _thinned(course)
        colour = colours.series[number % len(colours.series)]
        line = {"color": colour, "dash": DASHES[number % len(DASHES)], "width": 2}
        x, y = _broken(hours, level, course.attrs.get("breaks", ()))
        figure.add_scatter(
            x=x, y=y, name=name, mode="lines", line=line, hovertemplate="%{x:.1f} h: %{y:.0f} °C<extra></extra>"
        )
        tried = np.array(course.attrs.get("not_clear", ())) / 3600.0
        if len(tried):
            marker = {"symbol": "x-thin", "size": 7, "line": {"color": colour, "width": 2}}
            figure.add_scatter(
                x=tried,
                y=np.interp(tried, hours, level),
                name=f"{name}: not clear",
                mode="markers",
                marker=marker,
                showlegend=False,
                hovertemplate="%{x:.1f} h: not clear<extra></extra>",
            )
        clear = course.attrs.get("clear")
        if clear is not None:
            at = np.interp(clear / 3600.0, hours, level)
            marker = {"symbol": "circle-open", "size": 13, "color": colour, "line": {"width": 3}}
            figure.add_scatter(
                x=[clear / 3600.0], y=[at], name=f"{name}: clear", mode="markers", marker=marker, showlegend=False
            )
        rows.append([name, _NOT_CLEAR if clear is None else f"{clear / 3600.0:.1f} h"])
    figure.update_yaxes(range=[SCALE_C[0], SCALE_C[1] + 2.0], dtick=20)
    figure.update_layout(height=320 + 22 * len(rows))
    sentence = "; ".join(f"{name}, {'' if clear == _NOT_CLEAR else 'clear after '}{clear}" for name, clear in rows)
    return described(figure, f"Cooks compared, {axis}: {sentence or 'none'}.", ["cook", "clear after"], rows)


def _thinned(course: pd.DataFrame) -> tuple[Floats, Floats]:
    """Hours and degC of a course, at most MOST_POINTS of each."""
    every = max(1, -(-len(course) // MOST_POINTS))
    thin = course.iloc[::every]
    return thin.index.to_numpy(dtype=np.float64) / 3600.0, thin["paste_c"].to_numpy(dtype=np.float64)


def _broken(hours: Floats, level: Floats, breaks: Sequence[float]) -> tuple[Floats, Floats]:
    """The same points with a gap after each of these places (s), which a line does not bridge."""
    at = np.array(breaks, dtype=np.float64) / 3600.0
    places = np.searchsorted(hours, at, side="right")
    return np.insert(hours, places, at), np.insert(level, places, np.nan)


def need(beliefs: pd.DataFrame, *, title: str = "", dark: bool = False) -> go.Figure:
    """How likely each need is: equivalent minutes at 95 degC that a batch takes to come clear.

    beliefs: index ``need_min``, one column of weights for each belief, such as ``need_frame`` gives. Each is scaled to
    the highest of all.
    """
    figure, colours = styled_figure(title, "equivalent minutes at 95 °C", "", dark), palette(dark)
    top = float(beliefs.to_numpy().max())
    for number, name in enumerate(beliefs.columns):
        line = {"color": colours.series[number % len(colours.series)], "dash": DASHES[number % len(DASHES)], "width": 3}
        figure.add_scatter(
            x=beliefs.index,
            y=(beliefs[name] / top).round(4),
            name=str(name),
            mode="lines",
            line=line,
            hovertemplate="%{x:.0f} min<extra></extra>",
        )
    figure.update_xaxes(type="log", tickvals=_NEED_TICKS_MIN, range=[np.log10(50.0), np.log10(500.0)])
    figure.update_yaxes(showticklabels=False, ticks="", range=[0.0, 1.05]).update_layout(
        height=280, legend={"y": -0.35}
    )
    rows = []
    for name in beliefs.columns:
        low, middle, high = weighted_quantiles(
            beliefs.index.to_numpy(dtype=np.float64), beliefs[name].to_numpy(), (0.1, 0.5, 0.9)
        )
        rows.append([str(name), f"{middle:.0f} min", f"{low:.0f} to {high:.0f} min"])
    sentence = "; ".join(f"{name}, {middle} (likely {span})" for name, middle, span in rows)
    return described(figure, f"Need of a batch at 95 °C: {sentence}.", ["belief", "need", "8 in 10"], rows)
