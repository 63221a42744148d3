"""The jar curves: a jar of product neutralised or thickened by portions, and what that says of the dose."""

import plotly.graph_objects as go

from monitor.formulation import Jar, ThickeningCurve, jar_line
from monitor.plots.alternative import described
from monitor.plots.style import Palette, palette, styled_figure


def jar_ph(jar: Jar, target_ph: float, *, title: str = "", dark: bool = False) -> go.Figure:
    """The neutralising line of a jar: its pH against the grams of stock so far, with the line's central 80 %.

    Clear readings are discs, cloudy ones squares; the bar on the target is the stock that reaches it, likely. jar: of
    "jar neutralised"; target_ph: 8 to 11, below the jar's first reading. Raises ValueError where ``jar_line`` does.
    """
    line = jar_line(jar, target_ph)
    figure, colours = styled_figure(title, "stock in the jar, g", "pH", dark), palette(dark)
    reached = line.reaches(target_ph) if line.slope < 0.0 else None
    furthest = max(jar.stock_so_far_g, 0.0 if reached is None else min(reached[2], 2.0 * jar.stock_so_far_g))
    grams = [round(furthest * step / 40.0, 3) for step in range(41)]
    low, middle, high = ([round(y, 3) for y in column] for column in zip(*map(line.likely, grams), strict=True))
    edge = {"x": grams, "mode": "lines", "line": {"width": 0}, "hoverinfo": "skip"}
    figure.add_scatter(y=low, **edge)
    figure.add_scatter(y=high, fill="tonexty", fillcolor=colours.hill, **edge)
    figure.add_scatter(
        x=edge["x"],
        y=middle,
        name="line",
        mode="lines",
        line={"color": colours.series[1], "dash": "dash", "width": 2},
        hoverinfo="skip",
    )
    figure.add_hline(y=target_ph, line={"color": colours.ink, "dash": "dot", "width": 1.5})
    figure.add_annotation(
        x=0, xref="paper", xanchor="left", y=target_ph, yanchor="top", text=f"wanted {target_ph:g}", showarrow=False
    )
    if reached is not None and reached[0] <= furthest:
        ends = [max(reached[0], 0.0), min(reached[2], furthest)]
        figure.add_scatter(
            x=[round(end, 3) for end in ends],
            y=[target_ph, target_ph],
            name="stock wanted",
            mode="lines",
            line={"color": colours.series[0], "width": 7},
            hovertemplate="%{x:.1f} g<extra></extra>",
        )
    _add_readings(figure, jar, colours, "%{x:g} g: pH %{y:.2f}")
    figure.update_layout(height=280, showlegend=False)
    sentence = "The jar does not say what it takes to reach the pH that is wanted."
    if reached is not None:
        sentence = (
            f"The jar comes to pH {target_ph:g} with about {reached[1]:.2g} g of stock, "
            f"likely {max(reached[0], 0.0):.2g} to {reached[2]:.2g} g."
        )
    rows = [[f"{one.stock_g:g} g", f"{one.value:.2f}", _look(one.clear)] for one in jar.readings]
    return described(figure, sentence, ["stock", "pH", "look"], rows)


def jar_thickness(jar: Jar, curve: ThickeningCurve, *, title: str = "", dark: bool = False) -> go.Figure:
    """The thickening hump of a jar: how long it took to run out against the grams of stock so far.

    Clear readings are discs, cloudy ones squares; where the peak was found it is hatched. jar: of "jar thickened";
    curve: what ``thickening_curve`` made of it.
    """
    figure, colours = styled_figure(title, "stock in the jar, g", "seconds to run out", dark), palette(dark)
    top = max(one.value for one in jar.readings)
    if curve.peak_g is not None:
        first, last = curve.peak_g
        figure.add_scatter(
            x=[first, last, last, first, first],
            y=[0.0, 0.0, 1.15 * top, 1.15 * top, 0.0],
            mode="lines",
            line={"color": colours.faint, "width": 1},
            fill="toself",
            fillpattern={"shape": "/", "fgcolor": colours.faint, "bgcolor": colours.paper, "size": 8, "solidity": 0.12},
            name="peak",
            hoverinfo="skip",
        )
        figure.add_annotation(x=0.5 * (first + last), y=1.15 * top, yanchor="bottom", text="peak", showarrow=False)
    figure.add_scatter(
        x=[one.stock_g for one in jar.readings],
        y=[one.value for one in jar.readings],
        mode="lines",
        line={"color": colours.series[1], "width": 2.5},
        hoverinfo="skip",
    )
    _add_readings(figure, jar, colours, "%{x:g} g: %{y:.0f} s")
    figure.update_yaxes(rangemode="tozero", range=[0.0, 1.25 * top])
    figure.update_layout(height=280, showlegend=False)
    rows = [[f"{one.stock_g:g} g", f"{one.value:g} s", _look(one.clear)] for one in jar.readings]
    return described(figure, " ".join(curve.meaning), ["stock", "runs out in", "look"], rows)


def _look(clear: bool) -> str:
    return "clear" if clear else "cloudy"


def _add_readings(figure: go.Figure, jar: Jar, colours: Palette, hover: str) -> None:
    for clear, symbol in ((True, "circle"), (False, "square-open")):
        chosen = [one for one in jar.readings if one.clear == clear]
        if chosen:
            figure.add_scatter(
                x=[one.stock_g for one in chosen],
                y=[one.value for one in chosen],
                name=_look(clear),
                mode="markers",
                marker={"symbol": symbol, "size": 12, "color": colours.ink, "line": {"color": colours.ink, "width": 2}},
                hovertemplate=f"{hover}<extra></extra>",
            )
