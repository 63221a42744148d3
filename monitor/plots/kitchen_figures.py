"""What a kitchen has learned, as pictures: its need from cook to cook, its cooker, an excess."""

from collections.abc import Mapping

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from monitor.model import Floats
from monitor.plots.alternative import described
from monitor.plots.style import SCALE_C, palette, styled_figure

_NEED_TICKS_MIN = (60, 90, 120, 160, 220, 300, 420)
# Warm-ups are shown this long, and one is over when the paste is this near its plateau (judgement).
WARM_UP_MIN, NEAR_C = 120.0, 2.0


def need_by_cook(needs: pd.DataFrame, *, title: str = "", dark: bool = False) -> go.Figure:
    """The belief about the need, narrowing from cook to cook: equivalent minutes at 95 degC, 8 in 10 within the band.

    needs: a row for each number of cooks learned from, the index, with ``low_min``, ``middle_min`` and ``high_min``,
    as ``needs_frame`` gives it.

    >>> frame = pd.DataFrame({"low_min": [100.0], "middle_min": [160.0], "high_min": [255.0]}, index=[0])
    >>> need_by_cook(frame).data[-1].y
    (160.0,)
    """
    figure, colours = styled_figure(title, "cooks learned from", "min at 95 °C", dark), palette(dark)
    cooks = [int(number) for number in needs.index]
    low, middle, high = (needs[name].round(1).tolist() for name in ("low_min", "middle_min", "high_min"))
    edge = {"x": cooks, "mode": "lines", "line": {"color": colours.series[1], "width": 1}, "hoverinfo": "skip"}
    figure.add_scatter(y=low, **edge)
    figure.add_scatter(y=high, fill="tonexty", fillcolor=colours.hill, **edge)
    figure.add_scatter(
        x=cooks,
        y=middle,
        customdata=list(zip(low, high, strict=True)),
        name="need",
        mode="lines+markers",
        line={"color": colours.series[1], "width": 2.5},
        marker={"size": 9},
        hovertemplate="after %{x}: %{y:.0f} min, likely %{customdata[0]:.0f} to %{customdata[1]:.0f}<extra></extra>",
    )
    figure.update_yaxes(type="log", tickvals=_NEED_TICKS_MIN, range=[np.log10(60.0), np.log10(450.0)])
    figure.update_xaxes(dtick=1 if len(cooks) <= 10 else 2, showgrid=False)
    figure.update_layout(height=280, showlegend=False)
    rows = [
        [str(n), f"{m:.0f} min", f"{a:.0f} to {b:.0f} min"] for n, a, m, b in zip(cooks, low, middle, high, strict=True)
    ]
    sentence = "Nothing is known of the need."
    if rows:
        sentence = (
            f"Need of a batch in minutes at 95 °C: {rows[0][1]} (likely {rows[0][2]}) after {rows[0][0]} cooks, "
            f"{rows[-1][1]} (likely {rows[-1][2]}) after {rows[-1][0]}."
        )
    return described(figure, sentence, ["cooks", "need", "8 in 10"], rows)


def warm_up(
    courses: Mapping[str, pd.DataFrame],
    plateau_c: float,
    plateau_sd_c: float,
    *,
    title: str = "",
    dark: bool = False,
) -> go.Figure:
    """How the cooker brings its paste to its plateau: the first two hours of its cooks from lid on.

    courses: name -> frame as ``monitor.OpenedCook.aligned`` gives it, by "lid on", the latest first; that one is drawn
    bold. plateau_c, plateau_sd_c: where the next paste should settle and its standard deviation, degC, as
    ``kitchen_report`` has them.
    """
    figure, colours = styled_figure(title, "minutes from lid on", "", dark), palette(dark)
    figure.add_hrect(y0=plateau_c - plateau_sd_c, y1=plateau_c + plateau_sd_c, fillcolor=colours.band, line_width=0)
    figure.add_hline(y=plateau_c, line={"color": colours.ink, "dash": "dot", "width": 1.5})
    rows = []
    for number, (name, course) in reversed(list(enumerate(courses.items()))):
        minutes, level = _thinned(course)
        colour, width = (colours.series[0], 3.0) if number == 0 else (colours.faint, 1.0)
        figure.add_scatter(
            x=minutes.round(1).tolist(),
            y=level.round(1).tolist(),
            name=name,
            mode="lines",
            line={"color": colour, "width": width},
            hovertemplate="%{x:.0f} min: %{y:.0f} °C<extra></extra>",
        )
        near = minutes[level >= plateau_c - NEAR_C]
        rows.append([name, f"{near[0]:.0f} min" if len(near) else "not within two hours"])
    figure.update_xaxes(range=[0.0, WARM_UP_MIN], dtick=30, showgrid=False)
    figure.update_yaxes(range=[SCALE_C[0], SCALE_C[1] + 2.0], dtick=20, ticksuffix=" °C", showticksuffix="last")
    figure.update_layout(height=280, showlegend=False)
    sentence = f"The paste settles at about {plateau_c:.0f} °C, give or take {plateau_sd_c:.0f}"
    if rows:
        sentence += f"; the latest of {len(rows)} cooks came within {NEAR_C:.0f} °C of it after: {rows[-1][1]}"
    columns = ["cook", f"within {NEAR_C:.0f} °C of the plateau after"]
    return described(figure, f"{sentence}.", columns, rows[::-1])


def _thinned(course: pd.DataFrame) -> tuple[Floats, Floats]:
    """Minutes and degC of the first two hours, a point each minute at the most."""
    minutes = course.index.to_numpy(dtype=np.float64) / 60.0
    level = course["paste_c"].to_numpy(dtype=np.float64)
    inside = (minutes >= 0.0) & (minutes <= WARM_UP_MIN)
    minutes, level = minutes[inside], level[inside]
    _, first = np.unique(minutes.astype(np.int64), return_index=True)
    return minutes[first], level[first]


def true_excess(beliefs: Mapping[str, tuple[float, float, float]], *, title: str = "", dark: bool = False) -> go.Figure:
    """The true excess of a batch's alkali as it was believed at several moments, such as before and after its cook.

    beliefs: name -> the 10, 50 and 90 % points as fractions of the need, as ``Estimate.excess`` has them.

    >>> true_excess({"before": (-0.01, 0.02, 0.05), "after": (0.01, 0.02, 0.03)}).data[0].x
    (2.0, 2.0)
    """
    figure, colours = styled_figure(title, "alkali above what the oils take, %", "", dark), palette(dark)
    names = list(beliefs)
    low, middle, high = (np.array([100.0 * one[place] for one in beliefs.values()]) for place in range(3))
    figure.add_scatter(
        x=middle.round(2).tolist(),
        y=names,
        error_x={
            "type": "data",
            "symmetric": False,
            "array": (high - middle).round(2).tolist(),
            "arrayminus": (middle - low).round(2).tolist(),
            "color": colours.series[1],
            "thickness": 3,
            "width": 6,
        },
        name="excess",
        mode="markers",
        marker={"size": 12, "color": colours.series[1]},
        hovertemplate="%{y}: %{x:.1f} %<extra></extra>",
    )
    figure.add_vline(x=0, line={"color": colours.ink, "width": 1.5})
    figure.add_annotation(x=0, y=1, yref="paper", yanchor="bottom", text="just enough", showarrow=False)
    figure.update_yaxes(autorange="reversed", showgrid=False, type="category")
    # Room above for the words at nought.
    figure.update_layout(height=144 + 40 * len(names), showlegend=False, margin={"t": 30})
    rows = [
        [name, f"{m:.1f} %".replace("-", "−"), f"{a:.1f} to {b:.1f} %".replace("-", "−")]
        for name, a, m, b in zip(names, low, middle, high, strict=True)
    ]
    sentence = "; ".join(f"{name}, {m} (likely {span})" for name, m, span in rows) or "nothing is known"
    return described(figure, f"True excess of the alkali: {sentence}.", ["when", "excess", "8 in 10"], rows)
