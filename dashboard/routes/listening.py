"""Listening to a broker or a serial port from a page: one at a time, for a while, and only while somebody watches.

So no port stays held and no broker asked once the page is gone. Nothing of it is recorded.
"""

import re
import tempfile
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from threading import Event, Lock, Thread
from typing import TYPE_CHECKING
from urllib.parse import quote

from flask import Flask, Response, current_app

from dashboard.auth.addresses import SENDS_PATH
from dashboard.components.answers import AskedError, as_json, as_text, guarded, request_body
from dashboard.components.entry import text_of
from monitor.runtime import Clock, MonitorError, SystemClock

# What opens brokers and ports is loaded by whoever listens, not by every server of pages.
if TYPE_CHECKING:
    from monitor.listening import Ear, PlaceFinding, Proposal
    from monitor.sources import SourceUrl

LONGEST_S = 600.0
# A phone whose screen went dark asks no more.
UNWATCHED_S = 10.0
POLL_S = 0.2
FIND_EVERY_S = 0.5
EVERY_PORT = "serial://auto"
LISTENING = "kettleside-listening"
# User and password in front of the host.
_PASSWORD = re.compile(r"(//|^)[^/@]*:[^/@]*@")


@dataclass(frozen=True, slots=True)
class SeenSending:
    """What was heard so far.

    address: what is listened to. left_s: until it ends, None once it has ended. problems: sentences of what is wrong
    now. passed_over: messages of more topics than are kept. password: whether one was given.
    """

    address: str
    left_s: float | None
    messages: int
    passed_over: int
    problems: tuple[str, ...]
    findings: "tuple[PlaceFinding, ...]"
    proposal: "Proposal | None"
    password: bool


class Listening:
    """The listening of one application. longest_s, unwatched_s: after which it ends by itself, real seconds."""

    def __init__(
        self, clock: Clock | None = None, *, longest_s: float = LONGEST_S, unwatched_s: float = UNWATCHED_S
    ) -> None:
        self._clock = clock or SystemClock()
        self._limits = (longest_s, unwatched_s)
        self._lock = Lock()
        self._run: _Run | None = None

    def begin(self, address: str, password: str = "") -> None:
        """Listens to a broker or a port of this machine, instead of what was listened to before.

        address: a URL ``mqtt://`` or ``mqtts://``, a broker's name alone, the name of a port, or ``serial://auto``.
        Raises AskedError and SourceError.
        """
        url = listened_url(address)
        with self._lock:
            if self._run is not None:
                self._run.end()
            self._run = _Run(url, password, self._clock, *self._limits)
            self._run.thread.start()

    def end(self) -> None:
        """Ends it and forgets what was heard; does nothing where nothing is listened to."""
        with self._lock:
            run, self._run = self._run, None
            if run is not None:
                run.end()

    def seen(self) -> SeenSending | None:
        """What was heard; None where nothing is listened to. Who asks watches, so it goes on."""
        run = self._run
        return None if run is None else run.seen()


class _Run:
    """One listening, in a thread of its own. What was heard is kept for as long as somebody watches."""

    def __init__(self, url: "SourceUrl", password: str, clock: Clock, longest_s: float, unwatched_s: float) -> None:
        from monitor.listening import Listener

        self._url, self._password, self._clock = url, password, clock
        self._longest_s, self._unwatched_s = longest_s, unwatched_s
        self._stop, self._lock = Event(), Lock()
        self._listener: Listener | None = Listener(url)
        self._problems: tuple[str, ...] = ()
        self._findings: tuple[PlaceFinding, ...] = ()
        self._found_s, self._is_over = float("-inf"), False
        self._began_s = self._watched_s = clock.real_s()
        self.thread = Thread(target=self._work, name="what sends", daemon=True)

    def end(self) -> None:
        self._stop.set()
        self.thread.join()

    def seen(self) -> SeenSending | None:
        from monitor.listening import proposal

        with self._lock:
            if self._listener is None:
                return None
            heard, now_s = self._listener, self._clock.real_s()
            self._watched_s = now_s
            # Hundreds of topics take a while to go through, however many phones look.
            if now_s - self._found_s >= FIND_EVERY_S:
                self._findings, self._found_s = heard.findings(), now_s
            return SeenSending(
                self._url.text,
                None if self._is_over else max(0.0, self._began_s + self._longest_s - now_s),
                heard.messages,
                heard.passed_over,
                self._problems,
                self._findings,
                proposal(self._findings),
                bool(self._password),
            )

    def _work(self) -> None:
        from monitor.listening import open_ear

        try:
            with (
                tempfile.TemporaryDirectory(prefix="kettleside-") as folder,
                closing(open_ear(self._with_password(Path(folder)), self._clock)) as ear,
            ):
                while self._goes_on(self._longest_s):
                    self._hear(ear)
        except (MonitorError, OSError) as error:
            self._problems = (str(error),)
        self._is_over = True
        while self._goes_on(float("inf")):
            self._stop.wait(POLL_S)
        with self._lock:
            self._listener = None

    def _goes_on(self, longest_s: float) -> bool:
        now_s = self._clock.real_s()
        watched = now_s - self._watched_s < self._unwatched_s
        return watched and not self._stop.is_set() and now_s - self._began_s < longest_s

    def _hear(self, ear: "Ear") -> None:
        heard, options = ear.poll(POLL_S), ear.options()
        with self._lock:
            if self._listener is None:
                return
            for one in heard:
                self._listener.hear(one)
            for place, found in options.items():
                self._listener.set_options(place, found)
            self._problems = ear.problems

    def _with_password(self, folder: Path) -> "SourceUrl":
        """The URL that is opened. What this process was given for its own broker goes to no other one."""
        from monitor.sources import parse_source_url

        if self._url.user is None:
            return self._url
        file = folder / "password"
        file.touch(mode=0o600)
        file.write_text(self._password, encoding="utf-8")
        return parse_source_url(f"{self._url.text}?password_file={quote(str(file))}")


def listened_url(address: str) -> "SourceUrl":
    """What an address that was typed or tapped names.

    Only brokers and the ports of this machine can be listened to from a page: other devices, and files that an option
    names, are none of a phone's business. Raises AskedError and SourceError.
    """
    from monitor.sources import listed_ports, parse_source_url

    text = address.strip()
    if _PASSWORD.search(text):
        raise AskedError("Put the password into its own line: an address is shown.")
    if not text or not text.isprintable() or " " in text:
        raise AskedError("Type the broker's address, such as mqtt://broker, or tap a port.")
    if "?" in text:
        raise AskedError("Leave out what stands behind the “?”: how to read it is what is found out here.")
    if text == EVERY_PORT or text in listed_ports(""):
        return parse_source_url(text)
    if "://" not in text and not text.startswith("/"):
        text = f"mqtt://{text}"
    url = parse_source_url(text)
    if url.scheme not in ("mqtt", "mqtts"):
        raise AskedError("From here a broker can be listened to, or a port that is listed below.")
    return url


def add_listening(server: Flask) -> None:
    """Registers the buttons' addresses on ``server``."""
    listening = server.extensions[LISTENING] = Listening()

    def refusal(error: Exception, status: int) -> Response:
        return as_text(str(error), status)

    def begin() -> Response:
        asked = request_body()
        listening.begin(text_of(asked, "url"), text_of(asked, "password") if "password" in asked else "")
        return as_json({"to": SENDS_PATH})

    def end() -> Response:
        listening.end()
        return as_json({"to": SENDS_PATH})

    views: dict[str, Callable[[], Response]] = {"/set-up-listen": begin, "/set-up-listen-end": end}
    for path, view in views.items():
        server.add_url_rule(path, path, guarded(view, refusal), methods=["POST"])


def current_listening() -> Listening:
    """The listening of the application that is answering."""
    listening: Listening = current_app.extensions[LISTENING]
    return listening
