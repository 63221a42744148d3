"""The shell around every page: four places, each at most two taps away, and the one line of what is due or wrong.

Pages of Dash and the printed record take it from here, so that it is the same bar everywhere.
"""

from collections.abc import Mapping
from types import MappingProxyType

from dashboard.components.markup import markup
from dashboard.components.tags import Component, html

# Place -> (word, address); ``icons.css`` draws an icon for each.
PLACES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "now": ("Now", "/"),
        "bench": ("Bench", "/bench"),
        "cooks": ("Cooks", "/cooks"),
        "set-up": ("Set-up", "/set-up"),
    }
)

# How an address begins -> its place.
_STARTS = (
    ("/bench", "bench"),
    *((start, "cooks") for start in ("/cooks", "/compare", "/outcomes", "/truth", "/kitchen", "/record")),
    *((start, "set-up") for start in ("/set-up", "/probes", "/phones", "/manual")),
)


def icon(name: str) -> Component:
    """A drawing of ``icons.css``; the words beside it say what it means."""
    return html.Span("", className=f"icon icon-{name}", **{"aria-hidden": "true"})


def alert_line() -> Component:
    """What is due or wrong, in one line; ``15-shell.js`` fills it in, and a tap leads to it."""
    return html.A("", href="/", id="alert-line", hidden=True)


def bar(here: str, *, with_line: bool = True) -> Component:
    """The bar of places, with that of the page marked.

    here: one of ``PLACES``. with_line: False where the page has the line above its own buttons.
    """
    links = [
        html.A([icon(place), html.Span(word)], href=to, **({"aria-current": "page"} if place == here else {}))
        for place, (word, to) in PLACES.items()
    ]
    return html.Nav(
        [*([alert_line()] if with_line else []), html.Div(links, className="places")],
        className="shell",
        **{"aria-label": "Places"},
    )


def place_of(path: str) -> str:
    """The place that an address belongs to.

    >>> place_of("/"), place_of("/set-up"), place_of("/cooks/may")
    ('now', 'set-up', 'cooks')
    """
    return next((place for start, place in _STARTS if path.startswith(start)), "now")


def bar_markup(here: str, *, with_line: bool = True) -> str:
    """The bar as HTML."""
    return markup(bar(here, with_line=with_line))
