"""What the page of phones changes: names, who is shut out, and links for another phone or a view-only one."""

from collections.abc import Callable, Mapping
from functools import partial
from types import MappingProxyType

from flask import Flask, Response, request

from dashboard.auth.access_control import RequestGuard
from dashboard.auth.access_list import AccessListError
from dashboard.components.answers import AskedError, as_json, as_text, guarded, request_body
from dashboard.components.entry import Once, text_of
from monitor.runtime import SystemClock

# For how long a view-only link may be valid: hours, and their name on the page.
VALID_HOURS: Mapping[int, str] = MappingProxyType({4: "4 hours", 24: "a day", 168: "a week", 720: "a month"})


def add_phones_routes(server: Flask, guard: RequestGuard) -> None:
    """Registers the addresses of the page's buttons."""
    views: dict[str, Callable[[], Response]] = {
        "name": partial(_name, guard),
        "forget": partial(_forget, guard),
        "link": partial(_link, guard, Once()),
        "pair": partial(_pair, guard),
    }
    for word, view in views.items():
        path = f"/phones/{word}"
        server.add_url_rule(path, path, guarded(view, _refusal), methods=["POST"])


def _name(guard: RequestGuard) -> Response:
    asked = request_body()
    guard.access_list.rename(text_of(asked, "grant"), text_of(asked, "name"))
    return as_json({"to": "/phones"})


def _forget(guard: RequestGuard) -> Response:
    guard.access_list.revoke(text_of(request_body(), "grant"))
    return as_json({"to": "/phones"})


def _pair(guard: RequestGuard) -> Response:
    return as_json({"link": _absolute_url(guard.pairing_link()), "said": ""})


def _link(guard: RequestGuard, once: Once) -> Response:
    asked = request_body()
    hours, name = asked.get("hours"), text_of(asked, "name") or "Link"
    if not isinstance(hours, int) or hours not in VALID_HOURS:
        raise AskedError("Choose how long the link is good for.")

    def make() -> dict[str, object]:
        grant = guard.access_list.add(name, SystemClock().now(), valid_s=hours * 3600.0)
        return {"link": _absolute_url(guard.view_link(grant))}

    return as_json(once.made(asked, make))


def _absolute_url(path: str) -> str:
    """The absolute address of a path on this server, by the host name that the browser used."""
    return request.host_url.rstrip("/") + path


def _refusal(error: Exception, status: int) -> Response:
    return as_text(str(error), 503 if isinstance(error, AccessListError) else status)
