"""Where the time of a cook went, on its page: the verdict, bars beside the course, and each loss with its advice."""

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from dash import ALL, Dash, Input, Output, State, ctx, no_update

from dashboard.components import parts
from dashboard.components.chart import chart, chart_data, chart_output
from dashboard.components.in_browser import in_browser
from dashboard.components.tags import Component, dcc, html
from dashboard.components.viewer import clock
from dashboard.live.app_state import current_state
from dashboard.live.past_list import dearest_words, signed
from monitor.analysis import LITTLE_S, Loss, TimeLossReport
from monitor.exchange import utc_index
from monitor.plots import time_loss
from monitor.session import IDEAL, USUAL
from monitor.storage import CookSummary, RecordingError

# Room for six bars, as the figure has it.
BARS_PX = 304
MOST_OTHERS = 12


def time_section() -> Component:
    """The bars, what they are measured against, and the losses one by one; all but their places comes later."""
    return html.Section(
        [
            html.H2("Where the time went"),
            html.P("Counting…", id="lost-total"),
            chart("lost", BARS_PX, caption="Touch a bar to see its stretch in the course."),
            html.Ol([], id="lost-list", className="ledger"),
            html.Details(
                [
                    html.Summary("Measure against another"),
                    parts.button("An ideal cook", id={"against": IDEAL}),
                    parts.button("The kitchen's usual cook", id={"against": USUAL}),
                    html.Label("A cook, by oil, date, outcome or note", htmlFor="against-words"),
                    dcc.Input(id="against-words", type="search", value="", maxLength=200, debounce=0.3),
                    html.Div([], id="against-list"),
                ],
                className="against",
            ),
            dcc.Store(id="against", data=None),
            dcc.Store(id="losses"),
        ],
        id="time",
    )


def register(app: Dash) -> None:
    """Counts the losses, and shades the one that is touched."""

    @app.callback(
        Output("against-usual", "children"),
        Output("dearest", "children"),
        Input("start", "data"),
        State("cook-name", "data"),
    )
    def judge(_started: object, name: str) -> tuple[str, str]:
        report, trouble = _report(name, None)
        if report is None:
            return trouble, ""
        return f"{signed(report.seconds)} against {report.reference}.", dearest_words(report)

    @app.callback(
        chart_output("lost"),
        Output("lost-total", "children"),
        Output("lost-list", "children"),
        Output("losses", "data"),
        Input("against", "data"),
        State("cook-name", "data"),
    )
    def count(
        against: str | None, name: str
    ) -> tuple[dict[str, object] | None, str, list[Component], list[list[object]]]:
        report, trouble = _report(name, against)
        if report is None:
            return None, trouble, [], []
        figure = time_loss(losses_frame(report))
        rows = [[round(loss.begins), round(loss.ends), loss.cause] for loss in report.losses]
        return chart_data(figure), total_words(report), loss_rows(report), rows

    _register_choice(app)
    in_browser(
        app,
        "pick",
        Output("stretch", "data"),
        # Any chart's, because that of the losses is not there before plotly is.
        Input({"chart": ALL, "part": "graph"}, "clickData"),
        Input({"loss": ALL}, "n_clicks"),
        State("losses", "data"),
        prevent_initial_call=True,
    )


def _register_choice(app: Dash) -> None:
    """What the time is measured against: by a button, of which one is offered for each cook that is found."""

    @app.callback(Output("against", "data"), Input({"against": ALL}, "n_clicks"), prevent_initial_call=True)
    def choose(_taps: Sequence[int | None]) -> object:
        # Buttons that have just been put there are told of too, as not tapped.
        chosen, tapped = ctx.triggered_id, any(one["value"] for one in ctx.triggered)
        return str(chosen["against"]) if tapped and isinstance(chosen, Mapping) else no_update

    @app.callback(Output("against-list", "children"), Input("against-words", "value"), State("cook-name", "data"))
    def offer(words: str | None, name: str) -> list[Component]:
        state = current_state()
        with state.lock:
            found = state.library.found(str(words or "")[:200])
        ended = [one for one in found if isinstance(one, CookSummary) and one.finished is not None]
        others = [one for one in ended if one.path.stem != name][:MOST_OTHERS]
        return [parts.button(f"{one.title}, {one.path.stem[:10]}", id={"against": one.path.stem}) for one in others]


def _report(name: str, against: str | None) -> tuple[TimeLossReport | None, str]:
    """The report, or None and why there is none."""
    state = current_state()
    with state.lock:
        cook = state.cook(name)
    # Not under the lock: this reads other cooks, and no phone should wait for that.
    try:
        report = cook.ledger(against)
    except RecordingError as error:
        return None, f"{error.why[:1].upper()}{error.why[1:]}."
    return report, "It cannot be told: the cook has no beginning, no temperatures or no end."


def losses_frame(report: TimeLossReport) -> pd.DataFrame:
    """A report as ``monitor.plots.time_loss`` takes it."""
    losses = report.losses
    frame = pd.DataFrame(
        {
            "cause": [loss.cause for loss in losses],
            "lost_s": [loss.seconds for loss in losses],
            "begin": utc_index(np.array([loss.begins for loss in losses])),
            "end": utc_index(np.array([loss.ends for loss in losses])),
        }
    )
    frame.attrs["reference"] = report.reference
    return frame


def total_words(report: TimeLossReport) -> str:
    """How long the cook took beside its reference, in one or two sentences."""
    minutes = round((report.ended - report.began) / 60)
    took = f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else f"{minutes} min"
    words = f"{signed(report.seconds)} against {report.reference}. From lid on to clear it took {took}."
    return f"{words} {report.in_doubt}" if report.in_doubt else words


def loss_rows(report: TimeLossReport) -> list[Component]:
    """The losses of a minute and more, each a button that shades its stretch; smaller ones in one line."""
    told = [(number, loss) for number, loss in enumerate(report.losses) if abs(loss.seconds) >= LITTLE_S]
    rows = [_loss_row(number, loss) for number, loss in told]
    few = len(report.losses) - len(told)
    if few:
        rest = report.seconds - sum(loss.seconds for _, loss in told)
        rows.append(html.Li(f"{signed(rest)} in {few} more of under a minute{' each' if few > 1 else ''}"))
    return [*rows, html.Li("The entries add up to the whole.", className="why")]


def _loss_row(number: int, loss: Loss) -> Component:
    return html.Li(
        parts.button(
            [
                html.Span([html.Strong(signed(loss.seconds)), f" {loss.cause}"], className="cost"),
                html.Span(f"{clock(loss.begins)} to {clock(loss.ends)}", className="when"),
                html.Span(loss.advice),
            ],
            id={"loss": number},
        )
    )
