"""The manual: its pages by what somebody wants of them, and a search in all of them."""

import re

from dash import Dash, Input, Output

from dashboard.components import parts
from dashboard.components.manual_text import INDEX, Passage, passages_of, search
from dashboard.components.markdown import components, manual_address
from dashboard.components.tags import Component, dcc, html

PATH = "/manual"
TITLE = "Manual"
LONGEST_WORDS = 300
MOST_PASSAGES = 8
_ROW = re.compile(r"^- \[([^]]+)\]\(([^)]+)\): (.+)$", re.MULTILINE)


def layout(words: str = "", **_others: object) -> parts.Page:
    """The passages that tell of ``words``, or the list of pages."""
    asked = str(words)[:LONGEST_WORDS]
    return parts.still(
        parts.head(TITLE),
        html.Div(
            [
                html.Label("An alarm, a refusal, any word", htmlFor="manual-words"),
                dcc.Input(
                    id="manual-words",
                    type="search",
                    value=asked,
                    maxLength=LONGEST_WORDS,
                    debounce=0.3,
                    placeholder="paste cooling",
                ),
            ],
            className="find",
            role="search",
        ),
        html.Div(_found(asked), id="manual-found", **{"aria-live": "polite"}),
        title=TITLE,
    )


def register(app: Dash) -> None:
    """Finds as somebody types."""

    @app.callback(Output("manual-found", "children"), Input("manual-words", "value"), prevent_initial_call=True)
    def find(words: str | None) -> list[Component]:
        return _found((words or "")[:LONGEST_WORDS])


def _found(words: str) -> list[Component]:
    if not words.strip():
        return [part for group in passages_of(INDEX)[1:] for part in _group(group)]
    found = search(words)
    if not found:
        return [
            html.P(f"The manual says nothing of “{words}”.", className="plain"),
            html.P(parts.link("Every page", PATH)),
        ]
    return [html.Section(_passage(one), className="manual") for one in found[:MOST_PASSAGES]]


def _group(group: Passage) -> list[Component]:
    rows = [
        html.Li(html.A([html.Strong(words), html.Span(about)], href=manual_address(target)))
        for words, target, about in _ROW.findall(group.text)
    ]
    return [html.H2(group.heading), html.Ul(rows, className="ways")]


def _passage(found: Passage) -> list[Component]:
    """A passage to its first paragraph, under a heading that leads to it."""
    page = [] if found.heading == found.title else [html.Span(found.title, className="why")]
    address = manual_address(f"{found.page}.md#{found.anchor}")
    return [
        html.H2(html.A([found.heading, *page], href=address, className="opens-page")),
        *components(found.text, anchored=False)[:1],
    ]
