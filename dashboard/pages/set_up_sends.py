"""What a broker or a serial port sends, live, and the command that reads it as a cooker's readings."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dash import Dash, Input, Output, State, no_update
from dash.exceptions import PreventUpdate

from dashboard.auth.access_control import is_view_only
from dashboard.auth.addresses import SENDS_PATH
from dashboard.components import parts
from dashboard.components.inputs import text_field
from dashboard.components.sending import sender
from dashboard.components.tags import Component, dcc, html
from dashboard.routes.listening import EVERY_PORT, SeenSending, current_listening

if TYPE_CHECKING:
    from monitor.listening import PlaceFinding, Proposal

PATH = SENDS_PATH
TITLE = "What sends"
WHY = (
    "Listens to a broker or a cable, shows whatever arrives, and says how to read it. It records nothing, and ends "
    "when this page is left."
)
PASSWORD_ABOUT = "never shown, and forgotten when it ends; without TLS the network could read it"
ENDED = "It has ended. Listen again as often as you like."
NO_PORT = "This machine has no serial port now; look at the cable."
BEAT_MS = 1000
MOST_SHOWN = 20


def layout(**_others: object) -> parts.Page:
    """What is heard, where something is listened to, and what to listen to."""
    seen, ports = current_listening().seen(), _ports()
    asking = [
        html.H2("A broker"),
        text_field(
            "sends-url",
            "Address",
            value=seen.address if seen is not None and "mqtt" in seen.address else "",
            longest=500,
            about="such as mqtt://broker for all of it, or mqtt://USER@broker/kitchen/# for a part",
            mode="url",
        ),
        text_field("sends-password", "Password, if it wants one", longest=200, about=PASSWORD_ABOUT, secret=True),
        sender("sends-broker", "Listen", "/set-up-listen", {}, {"url": "sends-url", "password": "sends-password"}),
        html.H2("A cable"),
        html.Div(_port_buttons(ports), id="sends-ports"),
    ]
    again = html.Details([html.Summary("Listen to something else"), *asking], className="opens")
    return parts.still(
        parts.head(TITLE, parts.link("Set-up", "/set-up")),
        html.P(WHY) if seen is None else sender("sends-end", "Stop", "/set-up-listen-end"),
        html.Div(_heard(seen), id="sends-heard"),
        *(asking if seen is None else [again]),
        dcc.Store(id="sends-known", data=ports),
        dcc.Interval(id="sends-beat", interval=BEAT_MS),
        title=TITLE,
    )


def register(app: Dash) -> None:
    """Shows what is heard, and which ports there are."""

    @app.callback(
        Output("sends-heard", "children"),
        Output("sends-ports", "children"),
        Output("sends-known", "data"),
        Input("sends-beat", "n_intervals"),
        State("sends-known", "data"),
        prevent_initial_call=True,
    )
    def look(_beat: object, known: Sequence[str]) -> tuple[object, object, object]:
        if is_view_only():
            raise PreventUpdate
        ports = _ports()
        changed = (_port_buttons(ports), ports) if ports != known else (no_update, no_update)
        return _heard(current_listening().seen()), *changed


def _ports() -> list[str]:
    from monitor.sources import listed_ports

    return listed_ports("")


def _port_buttons(ports: Sequence[str]) -> list[Component]:
    if not ports:
        return [html.P(NO_PORT)]
    words = [(port, port) for port in ports] + ([(EVERY_PORT, "Every port")] if len(ports) > 1 else [])
    return [
        html.P("Only one program can have a port: end the logger first."),
        *(sender(f"sends {port}", name, "/set-up-listen", {"url": port}) for port, name in words),
    ]


def _heard(seen: SeenSending | None) -> list[Component]:
    if seen is None:
        return []
    count = f"{seen.messages} message{'' if seen.messages == 1 else 's'}"
    left = ENDED if seen.left_s is None else f"It ends by itself within {seen.left_s // 60 + 1:.0f} min."
    more = len(seen.findings) - MOST_SHOWN
    said = [
        *seen.problems,
        *([f"{more} more send something."] if more > 0 else []),
        *([f"{seen.passed_over} messages of further topics were passed over."] if seen.passed_over else []),
    ]
    return [
        html.H2(seen.address),
        html.P([html.Strong(f"{count}. "), left]),
        *(html.P(words) for words in said),
        *([] if seen.proposal is None else _proposed(seen.proposal, password=seen.password)),
        *([html.H2("What arrives")] if seen.findings else []),
        html.Ul([_found(one) for one in seen.findings[:MOST_SHOWN]], className="arrives"),
    ]


def _proposed(proposal: "Proposal", *, password: bool) -> list[Component]:
    secret = "Put the password into KETTLESIDE_MQTT_PASSWORD first."
    return [
        html.H2("To read it"),
        html.P("Type this where kettleside runs:"),
        html.Code(proposal.command(), className="print"),
        html.P("Or, with these pages and the notices:"),
        html.Code(proposal.command("start"), className="print"),
        *([html.P(secret)] if password else []),
        *(html.P(f"Check: {doubt}") for doubt in proposal.doubts),
    ]


def _found(one: "PlaceFinding") -> Component:
    from monitor.listening import finding_words

    return html.Li([html.Strong(one.place), *(html.P(line) for line in finding_words(one))])
