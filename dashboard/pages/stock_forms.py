"""What the stock's page asks for: a purchase of each kind, and a file."""

from dataclasses import dataclass

from dashboard.auth.access_control import is_view_only
from dashboard.components import parts
from dashboard.components.inputs import text_field
from dashboard.components.sending import sender
from dashboard.components.tags import Component, html
from dashboard.routes.stock import IMPORT_PATH, MOST_IMPORT_BYTES, STOCK_FILE_PATH
from monitor.stock import ALKALI, BOTTLE, OIL, OTHER, REAGENT, Shelf

USUAL_CURRENCY = "EUR"


@dataclass(frozen=True, slots=True)
class _Purchase:
    """A kind of thing that is bought. name: what its name goes by; amount: likewise. certificate: (field, words)."""

    words: str
    name: str
    amount: str = "Bought, g"
    certificate: tuple[tuple[str, str], ...] = ()


PURCHASES = {
    OIL: _Purchase(
        "An oil", "Oil", certificate=(("saponification_value", "Saponification value of its certificate, mg KOH/g"),)
    ),
    ALKALI: _Purchase(
        "Potassium or sodium hydroxide",
        "KOH or NaOH",
        certificate=(("assay", "Assay of its certificate, %"), ("carbonate", "Carbonate in it, %")),
    ),
    BOTTLE: _Purchase("Bottles", "mL in one", "How many"),
    REAGENT: _Purchase("A neutraliser", "Neutraliser"),
    OTHER: _Purchase("Anything else", "What, such as distilled water"),
}


def adding(shelf: Shelf, back: str) -> list[Component]:
    """A form for each kind of purchase, folded."""
    rows = [html.Li(_form(kind, one, shelf.currency, back)) for kind, one in PURCHASES.items()]
    return [html.H2("Add what was bought"), html.Ul(rows, className="ways")]


def _form(kind: str, one: _Purchase, currency: str, back: str) -> Component:
    named = "bottle_ml" if kind == BOTTLE else "name"
    mode = "decimal" if kind == BOTTLE else ""
    usual = {ALKALI: "KOH", BOTTLE: "250"}.get(kind, "")
    columns = [named, "lot", "amount", "price", "currency", *(column for column, _ in one.certificate)]
    place = {column: f"{kind}-{column}" for column in columns}
    fields = [
        text_field(place[named], one.name, value=usual, mode=mode),
        html.Div(
            [text_field(place["amount"], one.amount, mode="decimal"), text_field(place["lot"], "Lot")],
            className="pair fields",
        ),
        html.Div(
            [
                text_field(place["price"], "Paid for it all", mode="decimal"),
                text_field(place["currency"], "Currency", value=currency or USUAL_CURRENCY, longest=3),
            ],
            className="pair fields",
        ),
        *(text_field(place[column], words, mode="decimal") for column, words in one.certificate),
    ]
    body = {"kind": kind, "back": back}
    buttons = [sender(f"add-{kind}", "Put it on the shelf", "/stock/add", body, place)]
    if kind != BOTTLE:
        buttons.append(
            sender(f"add-{kind}-open", "On the shelf, already open", "/stock/add", {**body, "opened": "yes"}, place)
        )
    return html.Details([html.Summary([html.Strong(one.words)]), *fields, *buttons])


def csv_section(anything: bool, back: str) -> list[Component]:
    """The file of all movements, to keep and to read in. anything: whether there is one yet."""
    keep = [html.P(html.A("Keep it as CSV", href=STOCK_FILE_PATH, className="way", download="stock.csv"))]
    if is_view_only():
        return [html.H2("As a file"), *keep] if anything else []
    choose = parts.button("Choose a CSV file", **{"data-reads": "stock-import", "data-most-bytes": MOST_IMPORT_BYTES})
    return [
        html.H2("As a file"),
        *(keep if anything else []),
        html.Div(
            [
                choose,
                html.P("", id="stock-import-file", role="status"),
                sender("stock-import", "Read it in", IMPORT_PATH, {"text": "", "back": back}),
            ],
            className="sends",
        ),
        html.P("Movements that are there already count once; a wrong line refuses the whole file.", className="why"),
    ]
