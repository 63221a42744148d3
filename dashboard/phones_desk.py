"""The page of who may come in: paired phones with their names, links to look by, a PIN for another phone."""

from collections.abc import Callable

import segno
from flask import Flask, Response, g, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from dashboard.answers import asset
from dashboard.pairing import PHONES_PATH, Doorkeeper
from dashboard.phones import LONGEST_NAME, BookError, Guest
from monitor.runtime import SystemClock

# Hours that a link to look by may be good for, and what they are called.
HOURS = {4: "4 hours", 24: "a day", 168: "a week", 720: "a month"}
USUAL_HOURS = 24


def add_phones(server: Flask, doorkeeper: Doorkeeper) -> None:
    """Registers the page of phones and what is sent from it."""
    book = doorkeeper.book
    clock = SystemClock()

    def page(words: str = "", link: str = "", pin: str = "", status: int = 200) -> Response:
        now = clock.now()
        guests = [guest for guest in book.guests() if guest.is_welcome(now)]
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
            code=segno.make(link, error="l").svg_data_uri(scale=4, light="#fff") if link else "",
            pin=pin,
        )
        return Response(text, status, mimetype="text/html")

    def name() -> AnyResponse:
        book.rename(request.form.get("id", ""), request.form.get("name", ""))
        return redirect(PHONES_PATH, 303)

    def forget() -> AnyResponse:
        book.forget(request.form.get("id", ""))
        return redirect(PHONES_PATH, 303)

    def link() -> AnyResponse:
        hours = request.form.get("hours", "")
        if not (hours.isdecimal() and hours.isascii() and len(hours) < 5 and int(hours) in HOURS):
            return page("Choose how long the link is good for.", status=400)
        guest = book.add(request.form.get("name", "") or "Link", clock.now(), valid_s=int(hours) * 3600.0)
        return page(link=request.host_url.rstrip("/") + doorkeeper.link_to_look(guest))

    def pin() -> AnyResponse:
        return page(pin=book.new_pin(clock.now()))

    for path, view, method in (
        (PHONES_PATH, page, "GET"),
        (f"{PHONES_PATH}/name", name, "POST"),
        (f"{PHONES_PATH}/forget", forget, "POST"),
        (f"{PHONES_PATH}/link", link, "POST"),
        (f"{PHONES_PATH}/pin", pin, "POST"),
    ):
        server.add_url_rule(path, path, _guarded(view), methods=[method])


def _guarded(view: Callable[[], AnyResponse]) -> Callable[[], AnyResponse]:
    def answer() -> AnyResponse:
        try:
            return view()
        except BookError as error:
            return Response(str(error), 503, mimetype="text/plain")

    return answer
