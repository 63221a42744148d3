"""The oils table: each row's range, its sources, how it was seen and its fatty acids, found by any word of it."""

from dash import Dash, Input, Output

from dashboard.bench.oils import OilLine, oil_lines
from dashboard.components import parts
from dashboard.components.fields import folded
from dashboard.components.tags import Component, dcc, html
from monitor.chemistry import all_oils

PATH = "/bench/oils"
TITLE = "Oils table"
LONGEST = 60
VALUE = (
    "Saponification value: mg of potassium hydroxide that a gram of the oil takes. A certificate's own value is better "
    "than any table's: enter it with the oil on the charge's page."
)


def layout(q: str = "", **_others: object) -> parts.Page:
    """The rows that have the words that were asked for."""
    asked = str(q)[:LONGEST].strip()
    field = dcc.Input(id="oils-asked", type="search", value=asked, debounce=0.2, autoComplete="off", maxLength=LONGEST)
    label = html.Label("An oil, or words of its source", htmlFor="oils-asked", className="words")
    found = _found(asked)
    return parts.Page(
        html.Main(
            [
                parts.head(TITLE, parts.link("Bench", "/bench")),
                html.Div([label, html.Div(field, className="entry")], className="field", role="search"),
                html.P(found[0], id="oils-found", role="status"),
                html.P(VALUE, className="why"),
                html.Ul(found[1], id="oils-list", className="oils"),
            ],
            className="sums",
        ),
        {"page": "still"},
        f"{TITLE} · kettleside",
    )


def register(app: Dash) -> None:
    """Searches as it is typed."""

    @app.callback(
        Output("oils-found", "children"),
        Output("oils-list", "children"),
        Input("oils-asked", "value"),
        prevent_initial_call=True,
    )
    def search(asked: str | None) -> tuple[str, list[Component]]:
        return _found(str(asked or "")[:LONGEST].strip())


def _found(asked: str) -> tuple[str, list[Component]]:
    rows = oil_lines(asked)
    told = f"{len(rows)} of {len(all_oils())} oils"
    return told, [_row(row) for row in rows] or [html.Li(f"No row says {asked}.", className="plain")]


def _row(row: OilLine) -> Component:
    kind = "" if row.kind == "triglyceride" else f" A {row.kind}."
    check = html.Span(f"{row.check[:1].upper()}{row.check[1:]}.", **({"className": "outside"} if row.outside else {}))
    acids = html.Dl([html.Div([html.Dt(acid), html.Dd(share)]) for acid, share in row.acids])
    inside = [
        html.P(f"Range: {row.source}."),
        html.P(f"Typical: {row.typical_source}."),
        html.P(f"How sure: {row.surety}."),
        *([html.P(f"Also found as: {row.also}.")] if row.also else []),
        *([acids] if row.acids else []),
        *(html.P(fact) for fact in row.facts),
    ]
    value = html.Span(f"{row.low} to {row.high}", className="value")
    return html.Li(
        [
            html.Div([html.H2(row.name), value], className="weigh"),
            html.P([f"Typical, and taken: {row.taken} mg/g.{kind} ", check]),
            folded("Where from, how seen" + (", fatty acids" if row.acids else ""), *inside),
        ]
    )
