"""What the kitchen has learned, as pictures, each with what it means for the next cook."""

from collections.abc import Sequence

from dash import Dash, Input, Output

import monitor
from dashboard.components import parts
from dashboard.components.bench_words import percent
from dashboard.components.chart import chart, chart_data, chart_output
from dashboard.components.tags import Component, html
from dashboard.live.app_state import current_state
from dashboard.pages import came_true
from monitor.plots import kitchen_report, kitchen_text, need_by_cook, needs_frame, true_excess, warm_up
from monitor.session import Cook, kitchen_model, kitchen_models
from monitor.storage import CookSummary

PATH = "/kitchen"
TITLE = "Kitchen"
# Of the warm-ups more would only cover each other.
MAX_WARM_UPS = 6
WORKING = "Working it out…"
NOTHING = "Nothing is learned yet: no cook of this kitchen is finished. Invented cooks teach nothing."
# What will stand here -> when.
TO_COME = (
    ("What a batch of yours needs", "after the first finished cook with a clarity check; each further one narrows it"),
    ("How your cooker warms up, and where it settles", "after the first finished cook whose lid was logged"),
    ("How much alkali your batches really have in excess", "after the first cook with a titrated sample"),
    ("Whether the stated times came true", "after the first cook that read clear; from eight on it says how far"),
)


def layout(**_others: object) -> parts.Page:
    """The places of the pictures; with no finished cook, what will stand there and when."""
    state = current_state()
    with state.lock:
        teaching = state.library.teaching()
        ended = [one for one in state.library.cooks() if isinstance(one, CookSummary) and one.finished is not None]
    head = parts.head(
        TITLE, parts.link("Outcomes", "/outcomes"), parts.link("Compare", "/compare"), parts.link("Cooks", "/cooks")
    )
    if not teaching:
        coming = html.Dl([html.Div([html.Dt(what), html.Dd(f"{when}.")]) for what, when in TO_COME], className="coming")
        # An invented cook shows at least how such a judgement looks.
        return parts.still(
            head,
            html.P(NOTHING, className="plain"),
            html.H2("What will stand here"),
            coming,
            *([came_true.section(ended)] if ended else []),
            title=TITLE,
        )
    learned = [
        _picture("What a batch needs", "need-by-cook", 280, "Band: 8 in 10. It narrows with each cook that teaches."),
        _picture("How the cooker warms up", "warm-up", 280, "The latest cook is drawn bold; dotted, where it settles."),
        _excess(teaching),
    ]
    words = html.Section([html.H2("In words"), html.Ul([html.Li(WORKING)], id="learned")])
    return parts.still(
        head,
        html.Div(learned, className="column"),
        html.Div([came_true.section(ended), words], className="column"),
        title=TITLE,
    )


def register(app: Dash) -> None:
    """Draws the pictures and says what they mean."""
    came_true.register(app)

    @app.callback(
        chart_output("need-by-cook"),
        Output("need-by-cook-means", "children"),
        Output("learned", "children"),
        Input("start", "data"),
    )
    def need(_started: object) -> tuple[dict[str, object], str, list[Component]]:
        models = kitchen_models(current_state().library.folder)
        now = kitchen_report(models[-1])
        low, middle, high = now.need_min
        words = (
            f"For the next cook: about {middle:.0f} min at 95 °C, well stirred, and 8 in 10 sure of {low:.0f} to "
            f"{high:.0f}. A cooler paste takes longer: at 85 °C {now.ten_degrees:.1f} times as long."
        )
        return chart_data(need_by_cook(needs_frame(models))), words, [html.Li(line) for line in kitchen_text(now)]

    @app.callback(chart_output("warm-up"), Output("warm-up-means", "children"), Input("start", "data"))
    def warm(_started: object) -> tuple[dict[str, object], str]:
        library = current_state().library
        model = kitchen_model(library.folder)
        opened = {one.path.stem: monitor.open_cook(one.path) for one in library.teaching()[:MAX_WARM_UPS]}
        courses = {name: course for name, cook in opened.items() if len(course := cook.aligned("lid on"))}
        figure = warm_up(courses, model.plateau_c, model.plateau_sd_c)
        words = (
            f"For the next cook: expect the paste at about {model.plateau_c:.0f} °C, give or take "
            f"{model.plateau_sd_c:.0f}. If it is clearly below that two hours after lid on, look at the "
            "heat and the lid."
        )
        return chart_data(figure), words

    @app.callback(chart_output("true-excess"), Output("true-excess-means", "children"), Input("start", "data"))
    def excess(_started: object) -> tuple[dict[str, object], str]:
        beliefs = _beliefs(_titrated(current_state().library.teaching())[0])
        low, middle, high = beliefs.get("after the cook", (0.0, 0.0, 0.0))
        words = "Nothing could be learned from it: the sheet has no oils."
        if beliefs:
            words = (
                f"For the next cook: the same weights from the same bags give about {_percent(middle)} in excess, 8 in "
                f"10 sure of {_percent(low)} to {_percent(high)}."
            )
        return chart_data(true_excess(beliefs)), words


def _picture(heading: str, name: str, height_px: int, caption: str) -> Component:
    means = html.P(WORKING, id=f"{name}-means", className="means", role="status")
    return html.Section([html.H2(heading), chart(name, height_px, caption=caption), means])


def _excess(teaching: Sequence[CookSummary]) -> Component:
    found = _titrated(teaching)
    heading = "How much alkali a batch really has in excess"
    if not found:
        words = "No cook has told of it yet. Titrate a sample of the paste and log it, and it stands here."
        return html.Section([html.H2(heading), html.P(words)])
    return _picture(heading, "true-excess", 224, f"Of {found[0].title}, the latest batch with a titrated sample.")


def _titrated(teaching: Sequence[CookSummary]) -> list[CookSummary]:
    return [one for one in teaching if any(event.kind == "titrated" for event in one.events)]


def _beliefs(one: CookSummary) -> dict[str, tuple[float, float, float]]:
    """The excess as it was believed before its first titration, and at the end."""
    cook = Cook(one.path)
    first = min(event.known for event in one.events if event.kind == "titrated")
    said = {
        "before the sample": cook.outlook(first - 1.0).estimate.excess,
        "after the cook": cook.outlook(one.last_known).estimate.excess,
    }
    return {name: excess for name, excess in said.items() if excess is not None}


def _percent(share: float) -> str:
    # Number and sign stay on one line.
    return percent(share).replace("-", "−").replace(" ", "\u00a0")
