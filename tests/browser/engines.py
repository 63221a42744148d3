"""One phone in three browsers of Debian: Chromium, Firefox ESR and WebKitGTK, each tapped through the same few acts.

Playwright drives no stock Firefox and no WebKitGTK. Both understand the commands of W3C WebDriver: WebKitWebDriver takes
them by HTTP, Firefox by its own line, Marionette (a length, a colon, and JSON), because Debian packs no driver for it.
"""

import json
import os
import socket
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO, Protocol
from urllib.error import HTTPError, URLError
from urllib.request import Request, urlopen

from playwright.sync_api import Error, Page

from tests.cli.processes import until
from tests.sources.mosquitto import free_port

# The narrowest phone that the pages are made for.
WIDTH, HEIGHT = 360, 740
ANSWER_S = 60.0
MINI_BROWSER = "webkit2gtk-4.1/MiniBrowser"

Command = Callable[..., Any]


class EngineError(Exception):
    """A browser could not do what it was asked, for one because its page went away meanwhile."""


class Engine(Protocol):
    """What a person and a script can do to the page of a phone in one browser."""

    def go(self, address: str) -> None:
        """Opens an address and waits until it has loaded."""

    def run(self, script: str, *args: object) -> Any:
        """What the body of a function returns in the page, as JSON; it finds ``arguments``. Raises EngineError."""

    def tap(self, x: float, y: float) -> None:
        """A finger, or a mouse where the browser knows no touch, on a point of the viewport in CSS pixels."""

    def type(self, text: str) -> None:
        """Keys pressed one after the other, in what has the focus."""

    def faults(self) -> list[str]:
        """Every error that a page wrote to the console since the last call."""


class ChromiumEngine:
    """Chromium as Playwright drives it."""

    def __init__(self, page: Page) -> None:
        self._page, self._faults = page, list[str]()
        page.on("pageerror", lambda error: self._faults.append(str(error)))

    def go(self, address: str) -> None:
        self._page.goto(address)

    def run(self, script: str, *args: object) -> Any:
        try:
            return self._page.evaluate(f"(given) => (function () {{ {script} }}).apply(null, given)", list(args))
        except Error as error:
            raise EngineError(error.message) from None

    def tap(self, x: float, y: float) -> None:
        self._page.touchscreen.tap(x, y)

    def type(self, text: str) -> None:
        self._page.keyboard.type(text)

    def faults(self) -> list[str]:
        told, self._faults = self._faults, []
        return told


class WebDriverEngine:
    """A browser by the commands of W3C WebDriver. pointer: ``touch``, or ``mouse`` where there is no touch."""

    def __init__(self, command: Command, pointer: str, faults: Callable[[], list[str]]) -> None:
        self._command, self._pointer, self.faults = command, pointer, faults

    def go(self, address: str) -> None:
        self._command("Navigate", url=address)

    def run(self, script: str, *args: object) -> Any:
        return self._command("ExecuteScript", script=script, args=list(args))

    def tap(self, x: float, y: float) -> None:
        acts = [
            {"type": "pointerMove", "duration": 0, "x": round(x), "y": round(y)},
            {"type": "pointerDown", "button": 0},
            {"type": "pointerUp", "button": 0},
        ]
        finger = {"type": "pointer", "id": "finger", "parameters": {"pointerType": self._pointer}, "actions": acts}
        self._command("PerformActions", actions=[finger])

    def type(self, text: str) -> None:
        acts = [{"type": act, "value": key} for key in text for act in ("keyDown", "keyUp")]
        self._command("PerformActions", actions=[{"type": "key", "id": "keys", "actions": acts}])


@contextmanager
def firefox(folder: Path) -> Iterator[Engine]:
    """Debian's Firefox ESR without a screen, with touch, in a profile of its own in ``folder``."""
    asked = {"marionette.port": 0, "dom.w3c_touch_events.enabled": 1, "browser.shell.checkDefaultBrowser": False}
    lines = [f"user_pref({json.dumps(name)}, {json.dumps(value)});" for name, value in asked.items()]
    (folder / "user.js").write_text("\n".join(lines))
    words = ["firefox-esr", "--headless", "--no-remote", "--profile", str(folder), "--marionette"]
    port = folder / "MarionetteActivePort"
    # What a page may not do, its size and its console, is done from the browser's own side.
    with started([*words, "-remote-allow-system-access", "about:blank"], folder, "said") as process:
        until(lambda: process.poll() is None and port.exists() and port.read_text().strip().isdigit())
        reached = ("127.0.0.1", int(port.read_text()))
        with socket.create_connection(reached, ANSWER_S) as line, line.makefile("rb") as heard:
            command = marionette(line, heard)
            command("NewSession")

            def inside(script: str, *args: object) -> Any:
                command("Marionette:SetContext", value="chrome")
                told = command("ExecuteScript", script=script, args=list(args))
                command("Marionette:SetContext", value="content")
                return told

            # Its own window is never narrower than 450 px; the page in it may be.
            inside(
                "const page = gBrowser.selectedBrowser; [page.style.width, page.style.height] = arguments;",
                f"{WIDTH}px",
                f"{HEIGHT}px",
            )
            yield WebDriverEngine(command, "touch", lambda: list(inside(FIREFOX_FAULTS)))
            command("Marionette:Quit", flags=["eForceQuit"])


# nsIScriptError: warnings have the lowest bit of their flags set.
FIREFOX_FAULTS = """const told = Services.console.getMessageArray()
    .filter((one) => one instanceof Ci.nsIScriptError && !(one.flags & 1) && /^https?:/.test(one.sourceName))
    .map((one) => `${one.sourceName}:${one.lineNumber} ${one.errorMessage}`);
  Services.console.reset(); return told;"""


def marionette(line: socket.socket, heard: BinaryIO) -> Command:
    """Commands by the line that Firefox itself listens on; begins by taking its greeting."""

    def told() -> Any:
        length = b""
        while not length.endswith(b":"):
            length += heard.read(1)
        return json.loads(heard.read(int(length[:-1])))

    def command(name: str, **asked: object) -> Any:
        message = json.dumps([0, 1, name if ":" in name else f"WebDriver:{name}", asked]).encode()
        line.sendall(b"%d:%b" % (len(message), message))
        _, _, error, answer = told()
        if error is not None:
            raise EngineError(f"{name}: {error}")
        return answer["value"] if isinstance(answer, dict) and set(answer) == {"value"} else answer

    told()
    return command


@contextmanager
def webkit(folder: Path) -> Iterator[Engine]:
    """Debian's WebKitGTK, in its MiniBrowser that fills a screen in memory."""
    port = free_port()
    # Below a folder that is named after the machine's kind.
    (binary,) = map(str, Path("/usr/lib").glob(f"*/{MINI_BROWSER}"))
    wanted = {"webkitgtk:browserOptions": {"binary": binary, "args": ["--automation", "--full-screen"]}}
    driver = ["WebKitWebDriver", f"--port={port}"]
    with screen(folder) as display, started(driver, folder, "said", DISPLAY=display) as process:
        until(lambda: process.poll() is None and answers(port))
        begun = by_http(port, "/session", {"capabilities": {"alwaysMatch": wanted}})
        session = f"/session/{begun['sessionId']}"

        def command(name: str, **asked: Any) -> Any:
            if name == "ExecuteScript":
                asked["script"] = WEBKIT_WATCH + asked["script"]
            return by_http(port, session + PATHS[name], asked)

        def faults() -> list[str]:
            return list(command("ExecuteScript", script=WEBKIT_FAULTS, args=[]))

        # Filling the screen rids it of its own bars; without a window manager nobody else sees to its size.
        command("SetWindowRect", x=0, y=0, width=WIDTH, height=HEIGHT)
        yield WebDriverEngine(command, "mouse", faults)
        by_http(port, session, None)


# This browser tells its console to nobody, so the first question to a page has it keep its errors.
WEBKIT_WATCH = """if (!window.watched) { window.watched = true;
  for (const kind of ["error", "unhandledrejection"]) addEventListener(kind, (event) => sessionStorage.setItem("faults",
    JSON.stringify([...JSON.parse(sessionStorage.getItem("faults") || "[]"), String(event.error || event.reason)]))); }
"""
WEBKIT_FAULTS = """const told = JSON.parse(sessionStorage.getItem("faults") || "[]");
  sessionStorage.removeItem("faults"); return told;"""
# W3C WebDriver, section 6.1: the addresses of its commands below a session's.
PATHS = {
    "Navigate": "/url",
    "ExecuteScript": "/execute/sync",
    "PerformActions": "/actions",
    "SetWindowRect": "/window/rect",
}


def by_http(port: int, path: str, body: object | None) -> Any:
    """What the driver answers; without a body the thing at the path is ended."""
    data = None if body is None else json.dumps(body).encode()
    asked = Request(f"http://127.0.0.1:{port}{path}", data, method="DELETE" if body is None else "POST")
    try:
        with urlopen(asked, timeout=ANSWER_S) as answer:
            return json.load(answer)["value"]
    except HTTPError as error:
        with error:
            raise EngineError(f"{path}: {error.read().decode(errors='replace')}") from None


def answers(port: int) -> bool:
    """Whether something answers at this port of the machine."""
    try:
        with urlopen(f"http://127.0.0.1:{port}/status", timeout=ANSWER_S):
            return True
    except URLError:
        return False


@contextmanager
def screen(folder: Path) -> Iterator[str]:
    """An X server that draws in memory, of a phone's size; the name of its display."""
    size = f"{WIDTH}x{HEIGHT}x24"
    with started(["Xvfb", "-displayfd", "1", "-screen", "0", size, "-nolisten", "tcp"], folder, "display"):
        until(lambda: (folder / "display").read_text().endswith("\n"))
        yield f":{(folder / 'display').read_text().strip()}"


@contextmanager
def started(words: list[str], folder: Path, said: str, **environment: str) -> Iterator["subprocess.Popen[bytes]"]:
    """A process whose home is ``folder``, where it writes to the file ``said``, and which is ended at the end."""
    given = {**os.environ, "HOME": str(folder), "XDG_RUNTIME_DIR": str(folder), "NO_AT_BRIDGE": "1", **environment}
    with (folder / said).open("wb") as out:
        process = subprocess.Popen(words, stdout=out, stderr=subprocess.DEVNULL, env=given)
    try:
        yield process
    finally:
        process.terminate()
        process.wait(ANSWER_S)
