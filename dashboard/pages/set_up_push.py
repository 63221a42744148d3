"""Being told on a phone that sleeps: a push service of the person's own choice, joined by a square code, tested."""

from dash import Dash, Input, Output
from dash.exceptions import PreventUpdate

from dashboard.auth.access_control import is_view_only
from dashboard.auth.addresses import PUSH_PATH
from dashboard.components import parts
from dashboard.components.answers import told
from dashboard.components.inputs import square_code, text_field
from dashboard.components.sending import sender, sent
from dashboard.components.tags import Component, dcc, html
from dashboard.live.app_state import current_state
from dashboard.routes.push import TOPIC, host_of, joining_link
from dashboard.routes.self_test import current_self_test
from monitor.model import NAMES
from monitor.notifications import Service, added_services
from monitor.runtime import MonitorError

PATH = PUSH_PATH
TITLE = "Told on a sleeping phone"
WHY = (
    "A page rings only while it is open and the phone awake. A push service wakes the phone. Take one whose app you "
    "have or like; kettleside reaches it by Apprise, and recommends none."
)
LEAVES = (
    "The cooker's name and what is due or wrong, such as “cooker: stir due”. Never a reading or a recipe. The service, "
    "and whoever knows the topic, can see that, and when it was."
)
ASK_EVERY_MS = 1500


def layout(**_others: object) -> parts.Page:
    """The services that were added here, and three steps to another one."""
    try:
        services = added_services(current_state().library.folder)
    except MonitorError as error:
        return parts.still(parts.head(TITLE), parts.refused(told(error)), title=TITLE)
    added = [part for service in services for part in _added(service)]
    adding = _add()
    return parts.still(
        parts.head(TITLE),
        html.P(WHY),
        *added,
        *([html.Details([html.Summary("Add another"), *adding], className="opens")] if added else adding),
        *(_test() if added else []),
        html.H2("What leaves the house"),
        html.P(LEAVES),
        html.Details(
            [html.Summary("Every word of it"), html.P(", ".join(sorted(NAMES)) + ".")],
            className="opens",
        ),
        title=TITLE,
    )


def register(app: Dash) -> None:
    """Shows what the test told."""

    @app.callback(
        Output("push-told", "children"),
        Input("push-again", "n_intervals"),
        sent("push-test"),
        prevent_initial_call=True,
    )
    def show(_asked: int, answer: object) -> list[Component]:
        if is_view_only() or not answer:
            raise PreventUpdate
        lines = current_self_test().lines
        return [html.Li(line) for line in (["Sending…"] if lines is None else lines)]


def _add() -> list[Component]:
    return [
        html.H2("1. Name the service"),
        html.P(
            [
                "Its address as Apprise writes it. A service that needs no account takes a topic: write ",
                html.Code(TOPIC),
                " in its place, and a long random name is put there. A mail account or any other service does too.",
            ]
        ),
        text_field("push-url", "Address", longest=1000, about=f"such as SCHEME://push.example/{TOPIC}", mode="url"),
        text_field("push-name", "Call it", value="Phone", longest=40),
        sender("push-add", "Add it", "/set-up-add", {}, {"url": "push-url", "name": "push-name"}),
    ]


def _added(service: Service) -> list[Component]:
    link = joining_link(service.url)
    # Nothing else of an address is shown, because it may hold a password.
    host = host_of(service.url)
    joining = (
        square_code(link, "2. Join the topic on the phone: scan this with the service's app, or type its name there.")
        if link
        else html.P("No topic of ours is in its address, so there is nothing to join.", className="why")
    )
    return [
        html.H2(f"{service.name}, by {host}" if host else service.name),
        joining,
        html.Details(
            [
                html.Summary("Take it away"),
                sender(f"push-drop-{service.name}", "Yes, take it away", "/set-up-drop", {"name": service.name}),
            ],
            className="opens",
        ),
    ]


def _test() -> list[Component]:
    return [
        html.H2("3. Send a test, with the phone asleep"),
        html.Div(
            [
                sender("push-test", "Send a test", "/set-up-test"),
                sender("push-came", "It came", "/set-up-tick", {"what": "notice"}),
            ],
            className="halves",
        ),
        html.Ul("", id="push-told", className="ways", **{"aria-live": "polite"}),
        dcc.Interval(id="push-again", interval=ASK_EVERY_MS),
    ]
