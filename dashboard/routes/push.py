"""What the page of push services changes: a service added or taken away, a test, and that a notice came."""

import re
import secrets
from functools import partial
from urllib.parse import urlsplit

from flask import Flask, Response

from dashboard.auth.addresses import PUSH_PATH
from dashboard.auth.ticks import tick
from dashboard.components.answers import AskedError, as_json, as_text, guarded, request_body
from dashboard.components.entry import Once, text_of
from dashboard.live.app_state import AppState
from dashboard.routes.self_test import SELF_TEST, SelfTest
from monitor.notifications import add_service, drop_service
from monitor.runtime import SystemClock

# Where this stands in an address, a name that nobody guesses is put: whoever knows a topic may read it.
TOPIC = "TOPIC"
TOPIC_BYTES = 12
_TOPIC_NAME = re.compile(rf"[0-9a-f]{{{2 * TOPIC_BYTES}}}")


def add_push_routes(server: Flask, state: AppState) -> None:
    """Registers the addresses on ``server``."""
    test: SelfTest = server.extensions[SELF_TEST]
    for word, view in (
        ("add", partial(_add, state, Once())),
        ("drop", partial(_drop, state)),
        ("test", partial(_test, test)),
        ("tick", partial(_tick, state)),
    ):
        path = f"/set-up-{word}"
        server.add_url_rule(path, path, guarded(view, _refusal), methods=["POST"])


def host_of(url: str) -> str:
    """Host and port of an address, without user and password; empty where it has none."""
    try:
        return urlsplit(url).netloc.rpartition("@")[2]
    except ValueError:
        return ""


def joining_link(url: str) -> str:
    """Where a phone joins the topic of an Apprise address that has one of ours; else empty.

    >>> joining_link("push://push.example:8443/0123456789abcdef01234567"), joining_link("mailtos://a:b@mail.example")
    ('https://push.example:8443/0123456789abcdef01234567', '')
    """
    found, where = _TOPIC_NAME.search(url), host_of(url)
    return f"https://{where}/{found[0]}" if found and where else ""


def _add(state: AppState, once: Once) -> Response:
    asked = request_body()
    name, url = text_of(asked, "name").strip(), text_of(asked, "url").strip()
    if "://" not in url or not host_of(url) or not url.isprintable() or " " in url:
        raise AskedError("Type the service's address as Apprise writes it, such as SCHEME://push.example/TOPIC.")

    def make() -> dict[str, object]:
        add_service(state.library.folder, name or "Phone", url.replace(TOPIC, secrets.token_hex(TOPIC_BYTES)))
        return {"to": PUSH_PATH}

    return as_json(once.made(asked, make))


def _drop(state: AppState) -> Response:
    drop_service(state.library.folder, text_of(request_body(), "name"))
    return as_json({"to": PUSH_PATH})


def _test(test: SelfTest) -> Response:
    test.begin()
    return as_json({"said": ""})


def _tick(state: AppState) -> Response:
    tick(state.library.folder, text_of(request_body(), "what"), SystemClock().now())
    return as_json({"said": "Noted."})


def _refusal(error: Exception, status: int) -> Response:
    return as_text(str(error), status)
