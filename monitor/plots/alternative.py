"""What a figure says to those who do not see it: one sentence, and the table behind it.

Both travel inside the figure, as its ``layout.meta``, written by whoever built it: only the builder knows what a person
reads off a chart.
"""

import textwrap
from collections.abc import Sequence

import pandas as pd
import plotly.graph_objects as go

# Letters of a caption that fit beneath a picture.
CAPTION_LENGTH = 105


def described(figure: go.Figure, sentence: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> go.Figure:
    """The figure with its sentence and its table, of cells as people read them."""
    return figure.update_layout(meta={"alt": sentence, "columns": list(columns), "rows": [list(row) for row in rows]})


def alt_text(figure: go.Figure) -> str:
    """The figure in one sentence, for those who hear it. Raises ValueError for a figure that is not from this package.

    >>> alt_text(described(go.Figure(), "Two cooks.", ["cook"], [["first"], ["second"]]))
    'Two cooks.'
    """
    return str(_meta(figure)["alt"])


def captioned(figure: go.Figure) -> go.Figure:
    """A copy with its sentence beneath it, for a picture that stands alone. Raises ValueError as ``alt_text``."""
    copy = go.Figure(figure)
    lines = textwrap.wrap(alt_text(figure), CAPTION_LENGTH)
    margin = copy.layout.margin.b + 20 * len(lines) + 8
    copy.update_layout(margin={"b": margin})
    return copy.add_annotation(
        x=0,
        y=0,
        xref="paper",
        yref="paper",
        xanchor="left",
        yanchor="top",
        yshift=-36,
        align="left",
        text="<br>".join(lines),
        showarrow=False,
    )


def table(figure: go.Figure) -> pd.DataFrame:
    """What the figure shows as a table of text. Raises ValueError for a figure that is not from this package.

    >>> table(described(go.Figure(), "Two cooks.", ["cook"], [["first"], ["second"]]))["cook"].tolist()
    ['first', 'second']
    """
    meta = _meta(figure)
    return pd.DataFrame(list(meta["rows"]), columns=pd.Index(list(meta["columns"])), dtype="str")


def _meta(figure: go.Figure) -> dict[str, list[str]]:
    meta = figure.layout.meta
    if not isinstance(meta, dict) or "alt" not in meta:
        raise ValueError("figure has no description; it must be one that monitor.plots has built")
    return meta
