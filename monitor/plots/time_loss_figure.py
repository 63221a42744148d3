"""Where the time of a cook went: bars that lie beside its course."""

import textwrap

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from monitor.model import Floats
from monitor.plots.alternative import described
from monitor.plots.style import Palette, palette, styled_figure

# What cost less is told in the table, not drawn.
LEAST_DRAWN_S = 60.0
# The axis reaches at least this far, so that a few minutes never look like a disaster.
LEAST_REACH_MIN = 20.0
# Room for the words beside the bars, as parts of the axis: on one side, and on each where bars go both ways.
ROOM_ONE_WAY, ROOM_BOTH_WAYS = 0.36, 0.55
# Letters that fit beneath the bars on a phone.
LINE_LENGTH = 30


def time_loss(losses: pd.DataFrame, *, title: str = "", dark: bool = False) -> go.Figure:
    """Where the time of a cook went, minutes a cause, as ``monitor.OpenedCook.time_loss`` gives it.

    What was quicker than the reference is hatched. Each bar carries where on the curve it lies, as ``customdata``:
    Unix seconds of its begin and end, for ``shaded``. Causes of less than a minute stand in the table alone.

    >>> time_loss(pd.DataFrame({"cause": ["late stirs"], "lost_s": [2400.0]})).data[0].x.tolist()
    [40.0]
    """
    reference = losses.attrs.get("reference", "the reference")
    figure, colours = styled_figure(title, _wrapped(f"minutes more than {reference}"), "", dark), palette(dark)
    shown = losses[losses["lost_s"].abs() >= LEAST_DRAWN_S]
    minutes = shown["lost_s"].to_numpy(dtype=np.float64) / 60.0
    _add_bars(figure, minutes, _places(shown), colours)
    # One cause may have several places on the curve, so the axis counts bars and names them.
    bars = [*range(len(shown))]
    causes = shown["cause"].tolist()
    figure.update_yaxes(autorange="reversed", tickvals=bars, ticktext=causes, showgrid=False, ticks="")
    most, least = max([LEAST_REACH_MIN, *minutes]), min([0.0, *minutes])
    room = (ROOM_BOTH_WAYS if least < 0.0 else ROOM_ONE_WAY) * (most - least)
    figure.update_xaxes(range=[least - room if least < 0.0 else 0.0, most + room], nticks=5)
    figure.update_layout(showlegend=False, height=100 + 34 * max(len(bars), 1), bargap=0.35)
    rows = [[str(cause), _minutes(lost / 60.0)] for cause, lost in zip(losses["cause"], losses["lost_s"], strict=True)]
    total = _minutes(float(losses["lost_s"].sum()) / 60.0)
    dearest = f"; the most by {rows[0][0]}, {rows[0][1]}" if rows else ""
    return described(figure, f"Time lost against {reference}: {total} in all{dearest}.", ["cause", "minutes"], rows)


def _wrapped(words: str) -> str:
    return "<br>".join(textwrap.wrap(words, LINE_LENGTH))


def _places(losses: pd.DataFrame) -> list[list[float]] | None:
    if "begin" not in losses or "end" not in losses:
        return None
    return [[first.timestamp(), last.timestamp()] for first, last in zip(losses["begin"], losses["end"], strict=True)]


def _add_bars(figure: go.Figure, minutes: Floats, places: list[list[float]] | None, colours: Palette) -> None:
    figure.add_bar(
        x=minutes.round(1),
        y=[*range(len(minutes))],
        customdata=places,
        orientation="h",
        text=[_minutes(value) for value in minutes],
        textposition="outside",
        textfont={"color": colours.ink},
        cliponaxis=False,
        marker={
            "color": colours.series[0],
            "line": {"color": colours.series[0], "width": 1.5},
            "pattern": {
                "shape": ["/" if value < 0.0 else "" for value in minutes],
                "fgcolor": colours.series[0],
                "bgcolor": colours.paper,
                "size": 7,
                "solidity": 0.3,
            },
        },
        hovertemplate="%{text}<extra></extra>",
    )


def _minutes(value: float) -> str:
    return f"{value:+.0f} min".replace("-", "−")
