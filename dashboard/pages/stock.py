"""The stock: what is on the shelf, what a batch takes from it and costs, what was bought, and the file of it."""

from collections.abc import Sequence
from urllib.parse import quote

from dash import Dash, Input, Output, State

from dashboard.auth.access_control import is_view_only
from dashboard.bench.stock import BOTTLE_ML, BatchOnShelf, batch_on_shelf
from dashboard.bench_pages.facts import bench_facts
from dashboard.components import parts
from dashboard.components.answers import told
from dashboard.components.inputs import text_field
from dashboard.components.sending import sender
from dashboard.components.tags import Component, dcc, html
from dashboard.components.viewer import day_and_clock
from dashboard.live.app_state import current_state
from dashboard.pages.stock_forms import adding, csv_section
from monitor.runtime import MonitorError
from monitor.stock import (
    BOTTLE,
    COUNTED,
    DISCARDED,
    OPENED,
    Lot,
    Movement,
    Shelf,
    StockError,
    StockFacts,
    amount_text,
    cost_lines,
    draw_lines,
    lot_facts,
    lot_name,
    read_stock,
)
from monitor.storage import kept_sheets

PATH = "/bench/stock"
TITLE = "Stock"
EMPTY = "The shelf is empty. Add what you bought, and a batch takes its lots, certificates and prices from here."
MOST_LATEST, MOST_SHEETS = 5, 12


def layout(cook: str = "", sheet: str = "", **_others: object) -> parts.Page:
    """The shelf beside one batch: the cook's, or that of a kept sheet."""
    state = current_state()
    with state.lock:
        facts_of_cook = bench_facts(state, None if sheet else cook or None)
    name = "" if sheet else facts_of_cook.name
    asked = {"cook": name, "sheet": sheet}
    back = f"sheet={quote(sheet)}" if sheet else f"cook={quote(name)}" if name else ""
    facts = read_stock(state.library.folder)
    shelf = facts.shelf
    changing = [] if is_view_only() else [*adding(shelf, back), *_latest(facts, back)]
    main = [
        parts.head(TITLE, parts.link("Bench", f"/bench?cook={quote(name)}" if name else "/bench")),
        *(html.P(words, role="alert") for words in facts.unread),
        html.Div([*(_batch(asked, back) if facts.movements else []), *_on_shelf(shelf, back)], className="column"),
        html.Div([*changing, *_sheets(), *csv_section(bool(facts.movements), back)], className="column"),
        dcc.Store(id="stock-batch", data=asked),
    ]
    return parts.still(*main, title=TITLE)


def register(app: Dash) -> None:
    """Counts anew what a bottle costs as the number of bottles is typed."""

    @app.callback(
        Output("stock-takes", "children"),
        Input("stock-bottles", "value"),
        Input("stock-bottle-ml", "value"),
        State("stock-batch", "data"),
        prevent_initial_call=True,
    )
    def count(bottles: str | None, bottle_ml: str | None, asked: dict[str, str]) -> list[Component]:
        return _takes({**asked, "bottles": str(bottles or ""), "bottle_ml": str(bottle_ml or "")})


def _takes(asked: dict[str, str]) -> list[Component]:
    """What the batch takes, lot by lot, what is short, and what it costs; one sentence where that cannot be."""
    try:
        return _taking(batch_on_shelf(current_state(), **asked))
    except (MonitorError, ValueError) as error:
        return [html.P(_why(error), className="refusal", role="alert")]


def _taking(batch: BatchOnShelf) -> list[Component]:
    lines = [html.Li(line.strip()) for line in draw_lines(batch.draws, batch.shelf.currency)]
    short = [html.P(line, className="short") for line in batch.cost.short]
    costs = [html.P(line) for line in cost_lines(batch.cost)[len(short) :]]
    by_lot = [html.Details([html.Summary("Lot by lot"), html.Ul(lines)], className="opens")] if lines else []
    return [*short, *costs, *(html.P(line) for line in batch.certificates), *by_lot]


def _batch(asked: dict[str, str], back: str) -> list[Component]:
    if not asked["cook"] and not asked["sheet"]:
        return []
    try:
        batch = batch_on_shelf(current_state(), **asked)
    except (MonitorError, ValueError) as error:
        return [html.H2("The batch"), html.P(_why(error), className="plain", role="alert")]
    heading = html.H2(batch.title)
    if batch.taken:
        again = sender("stock-give-back", "Give it back", "/stock/give-back", {"batch": batch.purpose, "back": back})
        return [heading, html.P("It has taken from the shelf.", className="plain"), *_taking(batch), again]
    bottled = not asked["sheet"] and batch.bottles > 0
    fields = {"bottles": "stock-bottles", "bottle_ml": "stock-bottle-ml"}
    typed = html.Div(
        [
            text_field("stock-bottles", "Bottles", value=str(batch.bottles) if bottled else "", mode="numeric"),
            text_field("stock-bottle-ml", "mL in one", value=f"{BOTTLE_ML:g}", mode="decimal"),
        ],
        className="pair",
    )
    body = {**asked, "back": back}
    words, more = ("Take what is there", {"partly": "yes"}) if batch.cost.short else ("Take it for this batch", {})
    return [
        heading,
        html.Div(_taking(batch), id="stock-takes", role="status"),
        typed,
        sender("stock-take", words, "/stock/take", {**body, **more}, fields),
    ]


def _on_shelf(shelf: Shelf, back: str) -> list[Component]:
    there = [lot for lot in shelf.lots if lot.left > 0]
    if not there:
        return [html.H2("On the shelf"), html.P(EMPTY, className="plain")]
    rows = [html.Li(_lot(number, lot, shelf.currency, back)) for number, lot in enumerate(there)]
    return [html.H2("On the shelf"), html.Ul(rows, className="ways")]


def _lot(number: int, lot: Lot, currency: str, back: str) -> Component:
    left = f"{amount_text(lot.left, lot.kind)} left"
    body = {"kind": lot.kind, "name": lot.name, "lot": lot.lot, "back": back}
    body["bottle_ml"] = "" if lot.bottle_ml is None else f"{lot.bottle_ml:f}"
    typed = {"amount": f"lot-{number}-amount"}
    unit = "pieces" if lot.kind == BOTTLE else "g"
    opened = sender(f"lot-{number}-open", "Opened today", "/stock/lot", {**body, "movement": OPENED})
    inside = [
        *([opened] if lot.opened_at is None and lot.kind != BOTTLE else []),
        text_field(typed["amount"], f"How much, {unit}", mode="decimal"),
        sender(f"lot-{number}-count", "So much is left", "/stock/lot", {**body, "movement": COUNTED}, typed),
        sender(f"lot-{number}-away", "So much was thrown away", "/stock/lot", {**body, "movement": DISCARDED}, typed),
    ]
    words = [html.Strong(lot_name(lot)), html.Span([html.B(left), *(f", {one}" for one in lot_facts(lot, currency))])]
    return html.Details([html.Summary(words), *inside])


def _latest(facts: StockFacts, back: str) -> list[Component]:
    rows = [_entry(one, back) for one in facts.latest(MOST_LATEST)]
    return [html.H2("Latest entries"), html.Ul(rows, className="cooks gone")] if rows else []


def _entry(one: Movement, back: str) -> Component:
    thing = f"bottles of {one.bottle_ml:f} mL" if one.bottle_ml is not None else one.name
    amount = "" if one.amount is None else f"{amount_text(one.amount, one.kind)} "
    words = [day_and_clock(one.time), f" {one.movement}: {amount}{thing}{one.lot and f', lot {one.lot}'}"]
    return html.Li(
        [html.Span(words), sender(f"stock-{one.id}", "Take back", "/stock/take-back", {"entry": one.id, "back": back})]
    )


def _sheets() -> list[Component]:
    kept = [one for one in kept_sheets(current_state().library.folder) if one.batch is not None][:MOST_SHEETS]
    ways: Sequence[Component] = [
        html.Li(
            html.A(
                [html.Strong(one.batch.title), html.Span("What it takes and costs")], href=f"{PATH}?sheet={one.name}"
            )
        )
        for one in kept
        if one.batch is not None
    ]
    return [html.H2("Kept sheets"), html.Ul(ways, className="ways")] if ways else []


def _why(error: Exception) -> str:
    return told(error) if not isinstance(error, StockError) else f"{error.why[:1].upper()}{error.why[1:]}."
