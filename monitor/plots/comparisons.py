"""Cooks compared, where the time of one went, and what a kitchen has learned of its need."""

from collections.abc import Mapping

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from monitor.plots.style import DASHES, palette, styled_figure

_NEED_TICKS_MIN = (60, 90, 120, 160, 220, 300, 420)


def compare(courses: Mapping[str, pd.DataFrame], *, title: str = "", dark: bool = False) -> go.Figure:
    """Cooks laid over each other: the paste's temperature (degC) over hours on their common axis.

    courses: name -> frame as ``monitor.OpenedCook.aligned`` gives it, all by the same alignment. A ring stands where
    the first check read clear. Raises ValueError where the alignments differ.

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
    for number, (name, course) in enumerate(courses.items()):
        hours = course.index.to_numpy(dtype=np.float64) / 3600.0
        colour = colours.series[number % len(colours.series)]
        line = {"color": colour, "dash": DASHES[number % len(DASHES)], "width": 2}
        figure.add_scatter(x=hours, y=course["paste_c"].to_numpy(), name=name, mode="lines", line=line)
        clear = course.attrs.get("clear")
        if clear is not None:
            level = np.interp(clear / 3600.0, hours, course["paste_c"].to_numpy())
            marker = {"symbol": "circle-open", "size": 13, "color": colour, "line": {"width": 3}}
            figure.add_scatter(
                x=[clear / 3600.0], y=[level], name=f"{name}: clear", mode="markers", marker=marker, showlegend=False
            )
    return figure


def time_loss(losses: pd.DataFrame, *, title: str = "", dark: bool = False) -> go.Figure:
    """Where the time of a cook went, minutes a cause, as ``monitor.OpenedCook.time_loss`` gives it.

    >>> time_loss(pd.DataFrame({"cause": ["late stirs"], "lost_s": [2400.0]})).data[0].x.tolist()
    [40.0]
    """
    reference = losses.attrs.get("reference", "the reference")
    figure, colours = styled_figure(title, f"minutes more than {reference}", "", dark), palette(dark)
    minutes = losses["lost_s"].to_numpy(dtype=np.float64) / 60.0
    text = [f"{value:+.0f} min" for value in minutes]
    figure.add_bar(
        x=minutes, y=losses["cause"].tolist(), orientation="h", text=text, marker={"color": colours.series[0]}
    )
    return figure.update_yaxes(autorange="reversed").update_layout(showlegend=False)


def need(beliefs: pd.DataFrame, *, title: str = "", dark: bool = False) -> go.Figure:
    """How likely each need is: equivalent minutes at 95 degC that a batch takes to come clear.

    beliefs: index ``need_min``, one column of weights for each belief, such as ``need_frame`` gives. Each is scaled to
    the highest of all.
    """
    figure, colours = styled_figure(title, "equivalent minutes at 95 °C", "", dark), palette(dark)
    top = float(beliefs.to_numpy().max())
    for number, name in enumerate(beliefs.columns):
        line = {"color": colours.series[number % len(colours.series)], "dash": DASHES[number % len(DASHES)], "width": 3}
        figure.add_scatter(x=beliefs.index, y=beliefs[name] / top, name=str(name), mode="lines", line=line)
    figure.update_xaxes(type="log", tickvals=_NEED_TICKS_MIN, range=[np.log10(50.0), np.log10(500.0)])
    return figure.update_yaxes(showticklabels=False)
