"""A kept batch sheet: what it says, its day, and the cook that is begun with it."""

from dashboard.components import parts
from dashboard.components.bench_words import weight
from dashboard.components.sending import sender
from dashboard.components.tags import Component, html
from dashboard.live.app_state import AppState, current_state
from monitor.formulation import charge_of
from monitor.model import Batch
from monitor.storage import read_kept_sheet

PATH = "/bench/sheets/<name>"


def layout(name: str, **_others: object) -> parts.Page:
    """The sheet of this name. Raises KeptSheetError, SheetError."""
    state = current_state()
    with state.lock:
        batch = read_kept_sheet(state.library.folder, name)
        cooks = _cooks(state, name)
    ways = [
        ("Plan its day", "When to start, stir, check and bottle", f"/bench/day?sheet={name}"),
        ("Plan another from it", "Oils, size and strength begin as here", f"/bench/plan?sheet={name}"),
    ]
    page = html.Main(
        [
            parts.head(batch.title, parts.link("Kept sheets", "/bench/sheets")),
            _to_weigh(batch),
            *cooks,
            html.Ul(
                [html.Li(html.A([html.Strong(words), html.Span(about)], href=to)) for words, about, to in ways],
                className="ways",
            ),
            html.P(
                ["On the computer: ", html.Code(f"kettleside start --source URL --batch {name}")], className="plain"
            ),
            html.Details(
                [
                    html.Summary("Remove it"),
                    sender("sheet-remove", f"Remove {batch.title}", "/bench/sheets/remove", {"sheet": name}),
                ]
            ),
        ],
        className="sums",
    )
    return parts.Page(page, {"page": "still"}, f"{batch.title} · kettleside")


def _to_weigh(batch: Batch) -> Component:
    made, step_g = charge_of(batch), batch.scale_grams
    rows = [(oil.name, oil.grams) for oil in batch.oils]
    rows += [("KOH flakes", made.koh_g), ("NaOH", made.naoh_g), ("Water", made.water_g)]
    rows += [("Glycerol", batch.glycerol_grams), ("In all", made.total_g)]
    return html.Dl(
        [html.Div([html.Dt(what), html.Dd(weight(grams, step_g=step_g))]) for what, grams in rows if grams > 0]
    )


def _cooks(state: AppState, name: str) -> list[Component]:
    """The ways in which a cook takes the sheet: those under way, else a new one."""
    running = state.running()
    if not running:
        return [begin_with(name)]
    return [
        sender(
            f"sheet-take {each.path.stem}",
            f"Take it for {each.title}, on {each.about.rig}",
            "/bench/sheets/take",
            {"sheet": name, "cook": each.path.stem},
            className="keep",
        )
        for each in running
    ]


def begin_with(name: str, words: str = "Begin a cook with this sheet", kind: str = "keep") -> Component:
    """The button that begins a cook with the kept sheet of this name. kind: how it looks, by the style sheet."""
    return sender(f"sheet-begin {name}", words, "/bench/sheets/begin", {"sheet": name}, className=kind)
