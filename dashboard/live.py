"""The short way for the one address that every phone asks every second or two.

Flask's dispatch costs more than the answer, so a paired phone's ordinary question is answered before it; anything
else, an answer worth squeezing among it, goes the long way.
"""

import json
from collections.abc import Callable, Iterable
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import unquote

from dashboard.board import Mark
from dashboard.desk import Desk
from dashboard.diet import SMALLEST_SQUEEZED
from dashboard.pairing import Doorkeeper
from dashboard.phones import BookError
from monitor.runtime import MonitorError

# Made once, because json.dumps makes one at each call.
_AS_JSON = json.JSONEncoder(separators=(",", ":"), allow_nan=False)

Wsgi = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]


class ShortWay:
    """WSGI around the application."""

    def __init__(self, long_way: Wsgi, desk: Desk, doorkeeper: Doorkeeper) -> None:
        self._long_way = long_way
        self._desk = desk
        self._doorkeeper = doorkeeper

    def __call__(self, environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        if environ.get("PATH_INFO") == "/live" and environ.get("REQUEST_METHOD") == "GET":
            body = self._answer(environ)
            if body is not None:
                start_response(
                    "200 OK",
                    [
                        ("Content-Type", "application/json"),
                        ("Content-Length", str(len(body))),
                        ("Cache-Control", "no-store"),
                        # With it no browser hands JSON to another origin's page (Fetch standard, opaque responses), so
                        # that a resource policy, 46 bytes at every answer, would add nothing.
                        ("X-Content-Type-Options", "nosniff"),
                    ],
                )
                return [body]
        return self._long_way(environ, start_response)

    def _answer(self, environ: dict[str, Any]) -> bytes | None:
        cook, _, since = environ.get("QUERY_STRING", "").removeprefix("cook=").partition("&since=")
        mark = Mark.from_text(since)
        if mark is None or not self._is_paired(environ):
            return None
        try:
            with self._desk.lock:
                change = self._desk.board(unquote(cook)).since(mark)
        except MonitorError:
            return None
        body = _AS_JSON.encode(change).encode()
        return body if len(body) < SMALLEST_SQUEEZED else None

    def _is_paired(self, environ: dict[str, Any]) -> bool:
        if not self._doorkeeper.hosts.has(environ.get("HTTP_HOST", "")):
            return False
        try:
            cookie = SimpleCookie(environ.get("HTTP_COOKIE", "")).get(self._doorkeeper.cookie_name)
            return cookie is not None and self._doorkeeper.guest(cookie.value) is not None
        except (CookieError, BookError):
            # The long way says what is wrong.
            return False
