"""The page of phones: those that are paired, a link that pairs another one, and view-only links."""

from collections.abc import Callable
from functools import partial

import segno
from flask import Flask, Response, g, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from dashboard.access_control import RequestGuard
from dashboard.access_list import MAX_NAME_LENGTH, AccessGrant, AccessListError
from dashboard.answers import asset, shell_bar
from monitor.runtime import SystemClock

PHONES_PATH = "/phones"
# For how long a view-only link may be valid: hours, and their name on the page.
VALID_HOURS = {4: "4 hours", 24: "a day", 168: "a week", 720: "a month"}
DEFAULT_HOURS = 24
VIEW_LINK_TEXT = "Whoever has this link may look. It is shown this once."
PAIRING_LINK_TEXT = (
    "Open this link on the other phone within five minutes, or scan the code with it: it may then look and log."
)


def add_phones_routes(server: Flask, guard: RequestGuard) -> None:
    """Registers the page of phones and the addresses that its forms send to."""
    for path, view, method in (
        (PHONES_PATH, _page, "GET"),
        (f"{PHONES_PATH}/name", _name, "POST"),
        (f"{PHONES_PATH}/forget", _forget, "POST"),
        (f"{PHONES_PATH}/link", _link, "POST"),
        (f"{PHONES_PATH}/pair", _pair, "POST"),
    ):
        server.add_url_rule(path, path, _with_error_answer(partial(view, guard)), methods=[method])


def _page(guard: RequestGuard, words: str = "", link: str = "", link_words: str = "", status: int = 200) -> Response:
    now = SystemClock().now()
    grants = [grant for grant in guard.access_list.grants() if grant.is_valid(now)]
    own: AccessGrant | None = g.get("grant")
    text = render_template(
        "phones.html",
        asset=asset,
        shell_bar=shell_bar,
        phones=[grant for grant in grants if not grant.view_only],
        links=[grant for grant in grants if grant.view_only],
        own=own.id if own else "",
        hours=VALID_HOURS,
        usual=DEFAULT_HOURS,
        longest=MAX_NAME_LENGTH,
        words=words,
        link=link,
        link_words=link_words,
        code=segno.make(link, error="l").svg_data_uri(scale=4, light="#fff") if link else "",
    )
    return Response(text, status, mimetype="text/html")


def _name(guard: RequestGuard) -> AnyResponse:
    guard.access_list.rename(request.form.get("id", ""), request.form.get("name", ""))
    return redirect(PHONES_PATH, 303)


def _forget(guard: RequestGuard) -> AnyResponse:
    guard.access_list.revoke(request.form.get("id", ""))
    return redirect(PHONES_PATH, 303)


def _link(guard: RequestGuard) -> AnyResponse:
    hours = request.form.get("hours", "")
    if not (hours.isdecimal() and hours.isascii() and len(hours) < 5 and int(hours) in VALID_HOURS):
        return _page(guard, "Choose how long the link is good for.", status=400)
    name = request.form.get("name", "") or "Link"
    grant = guard.access_list.add(name, SystemClock().now(), valid_s=int(hours) * 3600.0)
    return _page(guard, link=_absolute_url(guard.view_link(grant)), link_words=VIEW_LINK_TEXT)


def _pair(guard: RequestGuard) -> AnyResponse:
    return _page(guard, link=_absolute_url(guard.pairing_link()), link_words=PAIRING_LINK_TEXT)


def _absolute_url(path: str) -> str:
    """The absolute address of a path on this server, by the host name that the browser used."""
    return request.host_url.rstrip("/") + path


def _with_error_answer(view: Callable[[], AnyResponse]) -> Callable[[], AnyResponse]:
    def answer() -> AnyResponse:
        try:
            return view()
        except AccessListError as error:
            return Response(str(error), 503, mimetype="text/plain")

    return answer
