"""Stated clear times held against the check that read clear."""

import math

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from monitor.model import Floats
from monitor.plots.alternative import described
from monitor.plots.style import Palette, palette, styled_figure

# Stated times are shown at the most this far from what came, minutes; what reaches further ends at the edge.
MOST_OFF_MIN = 180.0
CAME_TRUE = "came true"


def stated_against_came(stated: pd.DataFrame, *, title: str = "", dark: bool = False) -> go.Figure:
    """The clear times that were stated, in minutes from the check that read clear; one row a cook.

    stated: as ``monitor.api.stated_times`` gives it, of one share. Rows without ``middle`` are left out. The paste came
    clear between ``not_yet`` and ``clear``, which is hatched; a disc stands for an ``outcome`` of "came true", a cross
    for any other.
    """
    figure, colours = styled_figure(title, "minutes from the clear check", "", dark), palette(dark)
    shown = stated[stated["middle"].notna()]
    low, middle, high, not_yet = (
        ((shown[name] - shown["clear"]).dt.total_seconds() / 60.0).to_numpy(dtype=np.float64)
        for name in ("low", "middle", "high", "not_yet")
    )
    high, not_yet = np.nan_to_num(high, nan=np.inf), np.nan_to_num(not_yet, nan=-np.inf)
    names, outcomes = [str(name) for name in shown.index], [str(outcome) for outcome in shown["outcome"]]
    _add_brackets(figure, names, np.maximum(not_yet, -MOST_OFF_MIN), colours)
    true = np.array([outcome == CAME_TRUE for outcome in outcomes], dtype=bool)
    for chosen, symbol, word in ((true, "circle", CAME_TRUE), (~true, "x", "did not come true")):
        if chosen.any():
            rows = [name for name, one in zip(names, chosen, strict=True) if one]
            _add_stated(figure, rows, (low[chosen], middle[chosen], high[chosen]), symbol, word, colours)
    figure.add_vline(x=0, line={"color": colours.ink, "width": 1.5})
    # The file's name stands in the table; on a phone there is room for the day.
    days = [f"{clear.day} {clear:%b}" for clear in shown["clear"]]
    figure.update_yaxes(autorange="reversed", showgrid=False, type="category", tickvals=names, ticktext=days)
    figure.update_xaxes(range=[-MOST_OFF_MIN - 8.0, MOST_OFF_MIN + 8.0], dtick=90, tickangle=0)
    figure.update_layout(height=150 + 34 * len(names), legend={"y": -70.0 / (60.0 + 34.0 * max(len(names), 1))})
    cells = [
        [name, f"{_signed(a)} to {_signed(b)} min", f"{_signed(m)} min", outcome]
        for name, a, m, b, outcome in zip(names, low.tolist(), middle.tolist(), high.tolist(), outcomes, strict=True)
    ]
    sentence = f"Stated clear times against the clear check: {int(true.sum())} of {len(names)} came true."
    return described(figure, sentence, ["cook", "stated, 8 in 10", "middle", "outcome"], cells)


def _add_brackets(figure: go.Figure, names: list[str], not_yet: Floats, colours: Palette) -> None:
    """From the last sample that was not clear to the first that was."""
    figure.add_bar(
        y=names,
        base=not_yet.tolist(),
        x=(-not_yet).tolist(),
        orientation="h",
        name="came clear in here",
        marker={
            "color": colours.paper,
            "line": {"color": colours.faint, "width": 1},
            "pattern": {"shape": "/", "fgcolor": colours.faint, "bgcolor": colours.paper, "size": 7, "solidity": 0.2},
        },
        hoverinfo="skip",
    )


def _add_stated(
    figure: go.Figure, names: list[str], stated: tuple[Floats, Floats, Floats], symbol: str, word: str, colours: Palette
) -> None:
    left, middle, right = (np.clip(one, -MOST_OFF_MIN, MOST_OFF_MIN) for one in stated)
    figure.add_scatter(
        x=middle.round(1).tolist(),
        y=names,
        error_x={
            "type": "data",
            "symmetric": False,
            "array": (right - middle).round(1).tolist(),
            "arrayminus": (middle - left).round(1).tolist(),
            "color": colours.series[1],
            "thickness": 2.5,
            "width": 5,
        },
        name=word,
        mode="markers",
        marker={"symbol": symbol, "size": 11, "color": colours.series[1]},
        hovertemplate="%{y}: stated %{x:+.0f} min<extra></extra>",
    )


def _signed(minutes: float) -> str:
    return "open" if math.isinf(minutes) else f"{minutes:+.0f}".replace("-", "−")
