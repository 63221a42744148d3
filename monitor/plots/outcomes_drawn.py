"""The clear batches beside the hazy and cloudy ones, figure by figure."""

from collections.abc import Sequence
from dataclasses import dataclass

import plotly.graph_objects as go

from monitor.plots.alternative import described
from monitor.plots.style import palette, styled_figure

ROW_PX = 64


@dataclass(frozen=True, slots=True)
class OutcomeLine:
    """One figure of both groups. words: what it is; lowest, highest: as written; clear, others: values in any unit."""

    words: str
    clear: Sequence[float]
    others: Sequence[float]
    lowest: str
    highest: str
    medians: tuple[str, str]


def outcome_figure(lines: Sequence[OutcomeLine], *, title: str = "", dark: bool = False) -> go.Figure:
    """A row for each figure, from the lowest of all batches to the highest: a ring a clear one, a cross another."""
    figure, colours = styled_figure(title, "", "", dark), palette(dark)
    for name, symbol, colour, lift in (
        ("clear", "circle-open", colours.series[1], 0.13),
        ("hazy or cloudy", "x", colours.series[0], -0.13),
    ):
        x: list[float] = []
        y: list[float] = []
        for row, line in enumerate(lines):
            values = line.clear if lift > 0 else line.others
            low, high = min(*line.clear, *line.others), max(*line.clear, *line.others)
            x += [round((value - low) / (high - low or 1.0), 4) for value in values]
            y += [round(lift - row, 2)] * len(values)
        marker = {"symbol": symbol, "size": 12, "color": colour, "line": {"width": 2, "color": colour}}
        figure.add_scatter(x=x, y=y, name=name, mode="markers", marker=marker, hoverinfo="skip")
    for row, line in enumerate(lines):
        words = f"{line.words}: {line.lowest} to {line.highest}"
        figure.add_annotation(
            x=-0.04, y=0.5 - row, yshift=-9, text=words, showarrow=False, xanchor="left", font={"color": colours.ink}
        )
        figure.add_hline(y=-0.5 - row, line={"color": colours.rule, "width": 1})
    figure.update_xaxes(range=[-0.06, 1.06], showticklabels=False, ticks="", showgrid=False, zeroline=False)
    figure.update_layout(xaxis={"showline": False}, yaxis={"showline": False})
    figure.update_yaxes(range=[0.5 - len(lines), 0.5], showticklabels=False, ticks="", showgrid=False, zeroline=False)
    figure.update_layout(height=90 + ROW_PX * len(lines), margin={"l": 8, "r": 8})
    rows = [[line.words, *line.medians, f"{line.lowest} to {line.highest}"] for line in lines]
    sentence = "; ".join(f"{words}: clear {clear}, others {others}" for words, clear, others, _ in rows)
    columns = ["figure", "clear ones, middle", "others, middle", "all"]
    return described(figure, f"The clear batches beside the others: {sentence or 'none'}.", columns, rows)
