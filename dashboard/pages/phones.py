"""Phones: who may look and log, a link that pairs another one, and links for those who may only look."""

from dash import Dash, Output
from flask import g

from dashboard.auth.access_control import current_guard, is_view_only
from dashboard.auth.access_list import MAX_NAME_LENGTH, AccessGrant
from dashboard.components import parts
from dashboard.components.inputs import square_code, text_field
from dashboard.components.sending import sender, sent
from dashboard.components.tags import Component, html
from dashboard.components.viewer import time_of
from dashboard.routes.phones import VALID_HOURS
from monitor.runtime import SystemClock

PATH = "/phones"
TITLE = "Phones"
VIEW_LINK_TEXT = "Whoever has this link may look. It is shown this once."
PAIRING_LINK_TEXT = (
    "Open this link on the other phone within five minutes, or scan the code with it: it may then look and log."
)


def layout(**_others: object) -> parts.Page:
    """Every phone and link that may open the pages, and the buttons that make another."""
    now = SystemClock().now()
    grants = [grant for grant in current_guard().access_list.grants() if grant.is_valid(now)]
    own: AccessGrant | None = g.get("grant")
    phones = [_phone(grant, grant == own) for grant in grants if not grant.view_only]
    links = [_link(grant) for grant in grants if grant.view_only]
    return parts.still(
        parts.head(TITLE),
        html.H2("May look and log"),
        html.Ul(phones or [html.Li(html.P("Nobody yet."))], className="ways"),
        sender("pair", "Pair another phone", "/phones/pair"),
        html.Div("", id="pairing-link", **{"aria-live": "polite"}),
        html.H2("May look"),
        html.Ul(links or [html.Li(html.P("There is no link."))], className="ways"),
        text_field("link-name", "A link for", longest=MAX_NAME_LENGTH, about="a name that you will know it by"),
        html.Div(
            [
                sender(f"link-{hours}", f"For {words}", "/phones/link", {"hours": hours}, {"name": "link-name"})
                for hours, words in VALID_HOURS.items()
            ],
            className="halves",
        ),
        html.Div("", id="view-link", **{"aria-live": "polite"}),
        html.P(
            [
                "The key of the square code that kettleside prints pairs a phone at any time. To change it, stop "
                "kettleside, take away ",
                html.Code(".kettleside/pairing-key"),
                " in the recordings folder, and pair anew.",
            ],
            className="why",
        ),
        title=TITLE,
    )


def register(app: Dash) -> None:
    """Shows a link once it is made."""

    @app.callback(Output("pairing-link", "children"), sent("pair"), prevent_initial_call=True)
    def show_pairing_link(answer: object) -> Component:
        return _made(answer, PAIRING_LINK_TEXT)

    @app.callback(
        Output("view-link", "children"), *(sent(f"link-{hours}") for hours in VALID_HOURS), prevent_initial_call=True
    )
    def show_view_link(*answers: object) -> list[Component]:
        # Those of before are shown no longer than until the page is left.
        return [_made(answer, VIEW_LINK_TEXT) for answer in answers if answer]


def _made(answer: object, words: str) -> Component:
    """The link that was answered. Only what this very phone was told is in it."""
    link = answer.get("answer", {}).get("link") if isinstance(answer, dict) and answer.get("ok") else None
    if is_view_only() or not isinstance(link, str) or not link.startswith(("http://", "https://")):
        return ""
    return square_code(link, words)


def _phone(grant: AccessGrant, is_own: bool) -> Component:
    seen = ["Paired ", time_of(grant.created, day=True), ", last seen ", _when(grant.last_seen)]
    return _grant(grant, " (this one)" if is_own else "", seen, "Shut out")


def _link(grant: AccessGrant) -> Component:
    seen = ["Made ", time_of(grant.created, day=True), ", last used ", _when(grant.last_seen)]
    return _grant(grant, "", [*seen, ", ends ", _when(grant.expires)], "End it now")


def _grant(grant: AccessGrant, which: str, seen: list[Component], forget: str) -> Component:
    """One row, which opens to what can be changed: two taps, so that nobody is shut out by a slip."""
    field = f"name-{grant.id}"
    return html.Li(
        html.Details(
            [
                html.Summary([html.Strong(f"{grant.name}{which}"), html.Span(seen)]),
                text_field(field, "Name", value=grant.name, longest=MAX_NAME_LENGTH),
                html.Div(
                    [
                        sender(
                            f"call-{grant.id}", "Change the name", "/phones/name", {"grant": grant.id}, {"name": field}
                        ),
                        sender(f"forget-{grant.id}", forget, "/phones/forget", {"grant": grant.id}),
                    ],
                    className="halves",
                ),
            ]
        )
    )


def _when(moment: float | None) -> Component:
    return "not yet" if moment is None else time_of(moment, day=True)
