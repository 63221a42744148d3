"""What a person types into, and a link as a square code for another phone's camera."""

import segno

from dashboard.components.tags import Component, dcc, html


def text_field(
    name: str,
    label: str,
    *,
    value: str = "",
    longest: int = 60,
    about: str = "",
    mode: str = "",
    secret: bool = False,
) -> Component:
    """A line to type into, with its label.

    name: the id by which ``sender`` reads it. about: one line beneath the label. mode: the keyboard that a phone shows.
    secret: it is not shown while it is typed.
    """
    kind = "password" if secret else "text"
    typed = {"inputMode": mode} if mode else {}
    return html.Div(
        [
            html.Label([label, *([html.Span(about, className="why")] if about else [])], htmlFor=name),
            dcc.Input(id=name, type=kind, value=value, maxLength=longest, autoComplete="off", **typed),
        ],
        className="typed",
    )


def square_code(link: str, words: str) -> Component:
    """A link in words and as a square code. words: what it is good for."""
    picture = segno.make(link, error="l").svg_data_uri(scale=4, light="#fff")
    return html.Section(
        [
            html.P(words),
            html.Img(src=picture, alt="The link as a square code", width="240", height="240", className="code"),
            html.P(html.A(link, href=link, className="address")),
        ],
        **{"aria-label": "Link"},
    )
