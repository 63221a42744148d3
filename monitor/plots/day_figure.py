"""The day of a planned cook: what is to be done when, and when it should come clear."""

import pandas as pd
import plotly.graph_objects as go

from monitor.plots.alternative import described
from monitor.plots.style import palette, styled_figure

# From the top down, with the marker of each.
ROWS = {
    "prepare": ("oils, lye, blend", "square"),
    "lid on": ("lid on", "triangle-down"),
    "stir": ("stir", "triangle-up"),
    "check": ("clarity check", "circle"),
    "dilute": ("dilute", "square"),
}
LONG = ("prepare", "dilute")
NEEDS = {"sure": "in any cook", "likely": "in a usual cook", "perhaps": "only in a late cook"}
HOURS = pd.Timedelta(hours=26)


def day(frame: pd.DataFrame, *, dark: bool = False) -> go.Figure:
    """The day of a planned cook over the time of day.

    frame: as ``session.day_frame`` gives it. What is sure or likely is drawn full, what only a late cook takes open; a
    band is when 8 cooks of 10 come clear. What comes on later days is left to the words.
    """
    colours = palette(dark)
    begins = pd.DatetimeIndex(frame.index)
    figure = styled_figure(f"{frame.attrs['title']}, {begins[0]:%A} {begins[0].day} {begins[0]:%B}", "", "", dark)
    shown = frame[begins < begins[0] + HOURS]
    for kind, (name, symbol) in ROWS.items():
        own = shown[shown["kind"] == kind]
        for late in (False, True):
            chosen = own[(own["need"] == "perhaps") == late]
            if len(chosen):
                _add_row(figure, chosen, kind, name, symbol, late, dark)
    low, middle, high = (pd.Timestamp(moment).tz_localize(None) for moment in frame.attrs["clear_at"])
    figure.add_vrect(x0=low, x1=high, fillcolor=colours.band, line_width=0)
    figure.add_vline(x=middle, line={"color": colours.ink, "dash": "dash", "width": 1.5})
    figure.add_annotation(x=middle, y=1.0, yref="paper", yanchor="bottom", text="clear, 8 in 10", showarrow=False)
    names = [name for name, _ in ROWS.values()]
    figure.update_yaxes(categoryorder="array", categoryarray=names[::-1], range=[-0.6, len(names) - 0.4])
    figure.update_xaxes(tickformat="%H:%M")
    # Rows have their names at the axis.
    figure.update_layout(margin={"l": 130}, showlegend=False)
    sentence = (
        f"{frame.attrs['title']} on {begins[0]:%A} {begins[0].day} {begins[0]:%B}: oils on low at {begins[0]:%H:%M}, "
        f"clear between {low:%H:%M} and {high:%H:%M} in 8 cooks of 10, in half of them by {middle:%H:%M}."
    )
    rows = [
        [f"{at:%a %H:%M}", str(step["what"]), NEEDS[step["need"]]]
        for at, (_, step) in zip(begins, frame.iterrows(), strict=True)
    ]
    return described(figure, sentence, ["when", "what", "how sure"], rows)


def _add_row(figure: go.Figure, steps: pd.DataFrame, kind: str, name: str, symbol: str, late: bool, dark: bool) -> None:
    colours = palette(dark)
    at = pd.DatetimeIndex(steps.index).tz_localize(None)
    label = f"{name}, in a late cook" if late else name
    if kind in LONG:
        until = pd.DatetimeIndex(steps["until"]).tz_localize(None)
        line = {"color": colours.series[0], "width": 14}
        figure.add_scatter(x=[at[0], until[0]], y=[name, name], name=label, mode="lines", line=line)
        return
    fill = colours.paper if late else colours.ink
    marker = {"symbol": symbol, "size": 11, "color": fill, "line": {"color": colours.ink, "width": 2}}
    figure.add_scatter(x=at, y=[name] * len(steps), name=label, mode="markers", marker=marker)
