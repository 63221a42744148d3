"""What the page of phones changes: names, who is shut out, and links for another phone or a view-only one."""

from collections.abc import Callable
from functools import partial

from flask import Flask, Response, request

from dashboard.access_control import RequestGuard
from dashboard.access_list import AccessListError
from dashboard.answers import AskedError, as_json, as_text, guarded, request_body
from dashboard.entry import id_of
from dashboard.pages.phones import PATH, VALID_HOURS
from monitor.runtime import SystemClock

MOST_REMEMBERED = 64


def add_phones_routes(server: Flask, guard: RequestGuard) -> None:
    """Registers the addresses of the page's buttons."""
    links = _Links(guard)
    views: dict[str, Callable[[], Response]] = {
        "name": partial(_name, guard),
        "forget": partial(_forget, guard),
        "link": links.make,
        "pair": partial(_pair, guard),
    }
    for word, view in views.items():
        path = f"{PATH}/{word}"
        server.add_url_rule(path, path, guarded(view, _refusal), methods=["POST"])


def _name(guard: RequestGuard) -> Response:
    asked = request_body()
    guard.access_list.rename(_text(asked, "grant"), _text(asked, "name"))
    return as_json({"to": PATH})


def _forget(guard: RequestGuard) -> Response:
    guard.access_list.revoke(_text(request_body(), "grant"))
    return as_json({"to": PATH})


def _pair(guard: RequestGuard) -> Response:
    return as_json({"link": _absolute_url(guard.pairing_link()), "said": ""})


class _Links:
    """Makes view-only links: one for each tap, however often its request arrives."""

    def __init__(self, guard: RequestGuard) -> None:
        self._guard = guard
        self._made: dict[str, str] = {}

    def make(self) -> Response:
        asked = request_body()
        hours, uid = asked.get("hours"), id_of(asked)
        if not isinstance(hours, int) or hours not in VALID_HOURS:
            raise AskedError("Choose how long the link is good for.")
        now = SystemClock().now()
        grant = self._guard.access_list.grant(self._made.get(uid or "", ""), now)
        if grant is None:
            grant = self._guard.access_list.add(_text(asked, "name") or "Link", now, valid_s=hours * 3600.0)
            while len(self._made) >= MOST_REMEMBERED:
                del self._made[next(iter(self._made))]
            if uid:
                self._made[uid] = grant.id
        return as_json({"link": _absolute_url(self._guard.view_link(grant))})


def _text(asked: dict[str, object], name: str) -> str:
    value = asked.get(name, "")
    if not isinstance(value, str):
        raise AskedError(f"{name} must be text.")
    return value


def _absolute_url(path: str) -> str:
    """The absolute address of a path on this server, by the host name that the browser used."""
    return request.host_url.rstrip("/") + path


def _refusal(error: Exception, status: int) -> Response:
    return as_text(str(error), 503 if isinstance(error, AccessListError) else status)
