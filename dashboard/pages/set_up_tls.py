"""TLS, step by step: make the certificate, start with it, put it on the phone, test it."""

from dash import Dash, Input, Output
from flask import request

from dashboard.auth.access_control import current_guard
from dashboard.auth.addresses import AUTHORITY_PATH, MAKE_CERTIFICATE_PATH, TLS_PATH
from dashboard.auth.certificates import MadeCertificate
from dashboard.components import parts
from dashboard.components.in_browser import in_browser
from dashboard.components.sending import sender
from dashboard.components.tags import Component, html
from dashboard.components.viewer import time_of
from dashboard.routes.certificate import certificate_in_use

PATH = TLS_PATH
TITLE = "Secure connection"
UNLOCKS = (
    "With TLS nobody else on the network can copy what a phone sends, and browsers let this app do more: keep the "
    "phone awake beside the cooker, and open from the home screen like any other app."
)
TRUST = (
    "By this the phone trusts this one certificate. It is good for this machine's names alone, and the key that signed "
    "it was thrown away, so nobody can make another."
)
# Phones differ in what they do with the file; by that a person knows which steps are theirs.
PHONES = (
    (
        "The phone says that a profile was fetched",
        (
            "Settings, Profile downloaded, Install.",
            "Settings, General, About, Certificate trust settings: switch “kettleside, this machine alone” on.",
        ),
    ),
    (
        "The phone only saves a file",
        (
            "Settings, Security, then Encryption and credentials, which may stand under More.",
            "Install a certificate, CA certificate, Install anyway; choose kettleside.crt.",
        ),
    ),
    (
        "It is a computer",
        ("Open the browser's settings, search for certificates, and import kettleside.crt under Authorities.",),
    ),
)


def layout(**_others: object) -> parts.Page:
    """Four steps, each with what is done of it."""
    secure, made = certificate_in_use(current_guard())
    if secure and made is None:
        steps: list[Component] = [html.P("kettleside is served with a certificate of your own.", className="plain")]
    else:
        steps = [*_make(made), *_start(secure), *(_put_on(made) if made else [])]
    return parts.still(parts.head(TITLE), html.P(UNLOCKS), *steps, *_test(secure), title=TITLE)


def register(app: Dash) -> None:
    """Has the browser say whether it takes this page for secure."""
    in_browser(app, "secure", Output("secure", "children"), Input("start", "data"))


def _make(made: MadeCertificate | None) -> list[Component]:
    if made is None:
        return [html.H2("1. Make the certificate"), sender("certificate", "Make it", MAKE_CERTIFICATE_PATH)]
    return [
        html.H2("1. The certificate is made"),
        html.P(["It is good until ", time_of(made.ends, day=True), ", for ", ", ".join(made.names), "."]),
    ]


def _start(secure: bool) -> list[Component]:
    if secure:
        return [html.H2("2. kettleside is served with it")]
    return [
        html.H2("2. Start kettleside with it"),
        html.P(["Where kettleside runs, stop it, and start it as before with ", html.Code("--tls own"), " added."]),
    ]


def _put_on(made: MadeCertificate) -> list[Component]:
    return [
        html.H2("3. Put it on this phone"),
        html.P(parts.link("Fetch the certificate", AUTHORITY_PATH)),
        *(
            html.Details([html.Summary(words), html.Ol([html.Li(step) for step in steps])], className="opens")
            for words, steps in PHONES
        ),
        html.P("The phone, and the terminal where kettleside runs, must show this SHA-256 fingerprint for it:"),
        html.Code(made.authority_fingerprint, className="print"),
        html.P(TRUST, className="why"),
    ]


def _test(secure: bool) -> list[Component]:
    there = f"https://{request.host}{PATH}"
    ways = [] if secure else [html.P(["Once steps 1 to 3 are done: ", parts.link("open this page over TLS", there)])]
    return [
        html.H2("Is this page secure?"),
        html.P("Asking the browser…", id="secure", role="status"),
        *ways,
    ]
