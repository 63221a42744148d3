"""The page of who may come in: paired phones with their names, a link for another phone, links to look by."""

from collections.abc import Callable
from functools import partial

import segno
from flask import Flask, Response, g, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from dashboard.access_control import PHONES_PATH, Doorkeeper
from dashboard.access_list import LONGEST_NAME, BookError, Guest
from dashboard.answers import asset
from monitor.runtime import SystemClock

# Hours that a link to look by may be good for, and what they are called.
HOURS = {4: "4 hours", 24: "a day", 168: "a week", 720: "a month"}
USUAL_HOURS = 24
MAY_LOOK = "Whoever has this link may look. It is shown this once."
PAIRS = "Open this link on the other phone within five minutes, or scan the code with it: it may then look and log."


def add_phones(server: Flask, doorkeeper: Doorkeeper) -> None:
    """Registers the page of phones and what is sent from it."""
    for path, view, method in (
        (PHONES_PATH, _page, "GET"),
        (f"{PHONES_PATH}/name", _name, "POST"),
        (f"{PHONES_PATH}/forget", _forget, "POST"),
        (f"{PHONES_PATH}/link", _link, "POST"),
        (f"{PHONES_PATH}/pair", _pair, "POST"),
    ):
        server.add_url_rule(path, path, _guarded(partial(view, doorkeeper)), methods=[method])


def _page(doorkeeper: Doorkeeper, words: str = "", link: str = "", link_words: str = "", status: int = 200) -> Response:
    now = SystemClock().now()
    guests = [guest for guest in doorkeeper.book.guests() if guest.is_welcome(now)]
    own: Guest | None = g.get("guest")
    text = render_template(
        "phones.html",
        asset=asset,
        phones=[guest for guest in guests if not guest.looks_only],
        links=[guest for guest in guests if guest.looks_only],
        own=own.id if own else "",
        hours=HOURS,
        usual=USUAL_HOURS,
        longest=LONGEST_NAME,
        words=words,
        link=link,
        link_words=link_words,
        code=segno.make(link, error="l").svg_data_uri(scale=4, light="#fff") if link else "",
    )
    return Response(text, status, mimetype="text/html")


def _name(doorkeeper: Doorkeeper) -> AnyResponse:
    doorkeeper.book.rename(request.form.get("id", ""), request.form.get("name", ""))
    return redirect(PHONES_PATH, 303)


def _forget(doorkeeper: Doorkeeper) -> AnyResponse:
    doorkeeper.book.forget(request.form.get("id", ""))
    return redirect(PHONES_PATH, 303)


def _link(doorkeeper: Doorkeeper) -> AnyResponse:
    hours = request.form.get("hours", "")
    if not (hours.isdecimal() and hours.isascii() and len(hours) < 5 and int(hours) in HOURS):
        return _page(doorkeeper, "Choose how long the link is good for.", status=400)
    name = request.form.get("name", "") or "Link"
    guest = doorkeeper.book.add(name, SystemClock().now(), valid_s=int(hours) * 3600.0)
    return _page(doorkeeper, link=_whole(doorkeeper.link_to_look(guest)), link_words=MAY_LOOK)


def _pair(doorkeeper: Doorkeeper) -> AnyResponse:
    return _page(doorkeeper, link=_whole(doorkeeper.link_to_pair()), link_words=PAIRS)


def _whole(path: str) -> str:
    """The whole address of a path on this server, as the asking browser calls it."""
    return request.host_url.rstrip("/") + path


def _guarded(view: Callable[[], AnyResponse]) -> Callable[[], AnyResponse]:
    def answer() -> AnyResponse:
        try:
            return view()
        except BookError as error:
            return Response(str(error), 503, mimetype="text/plain")

    return answer
