"""An invented cook to look at, played into the served folder by a process of its own.

Its recording is marked as invented from its first byte, so no kitchen learns from it, and it goes to the trash when it
is ended early. One at a time, and none beside a real cook.
"""

import os
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from threading import Lock
from urllib.parse import quote

from flask import Flask, Response, current_app

from dashboard.components.answers import AskedError, as_json, as_text, guarded
from dashboard.live.app_state import AppState
from monitor.runtime import (
    OWN_GROUP_FLAGS,
    OWN_PROCESS_GROUP,
    PARENT_VARIABLE,
    MonitorError,
    SystemClock,
    ask_to_end,
)
from monitor.session import is_sample
from monitor.simulator import BATCH_FILE, BEGAN, INVENTED
from monitor.storage import logger_status

RIG = "invented cook"
# Two and a half hours of it pass in as many minutes.
SPEED = 60.0
# The player and its logger start within this, real seconds; the cook begins when it has passed.
START_UP_S = 4.0
STOP_WITHIN_S = 8.0
INVENTED_COOK = "kettleside-invented-cook"


class InventedCook:
    """The invented cook of one application."""

    def __init__(self, state: AppState) -> None:
        self._state = state
        self._player: subprocess.Popen[bytes] | None = None
        self._lock = Lock()

    def name(self) -> str:
        """The recording that is played; empty while none is. To be called with the state's lock held."""
        found = self._state.library.under_way().get(RIG)
        running = [one for one in self._state.running() if one.path == found]
        return running[0].path.stem if running and is_sample(running[0]) else ""

    def begin(self) -> str:
        """Begins it, and gives its name; a second tap gives that of the one that plays.

        Raises AskedError beside a real cook, and RecordingError where nothing can be written.
        """
        with self._lock, self._state.lock:
            if name := self.name():
                return name
            if self._state.running():
                raise AskedError("A cook is running; finish it before you look at an invented one.")
            anchor = replace(SystemClock().anchor(), cook_time=BEGAN - START_UP_S * SPEED, rate=SPEED)
            sheet = BATCH_FILE.read_text(encoding="utf-8")
            name = self._state.library.begin(RIG, INVENTED, sheet, SystemClock(anchor)).name
            command = [sys.executable, "-m", "monitor.cli", "demo", "--recordings", str(self._state.library.folder)]
            command += ["--beside", RIG, "--virtual-clock", anchor.as_text()]
            try:
                self._player = subprocess.Popen(
                    command,
                    env={**os.environ, PARENT_VARIABLE: str(os.getpid())},
                    stdin=subprocess.DEVNULL,
                    stdout=subprocess.DEVNULL,
                    process_group=OWN_PROCESS_GROUP,
                    creationflags=OWN_GROUP_FLAGS,
                )
            except OSError as error:
                self._put_away(name)
                raise AskedError(f"The invented cook cannot be started: {error.strerror}.") from None
            return name

    def end(self) -> None:
        """Ends the one that plays, with its process, and puts its recording in the trash. Does nothing without one."""
        with self._lock:
            player, self._player = self._player, None
            if player is not None:
                ask_to_end(player)
                try:
                    player.wait(STOP_WITHIN_S)
                except subprocess.TimeoutExpired:
                    player.kill()
                    player.wait()
            with self._state.lock, suppress(MonitorError):
                if name := self.name():
                    self._put_away(name)

    def close(self) -> None:
        """The same, for a server that ends."""
        self.end()

    def clear_up(self) -> None:
        """Puts away one whose server was killed; another server's, which still plays, goes on."""
        if not logger_status(self._state.library.folder, RIG).running:
            self.end()

    def _put_away(self, name: str) -> None:
        library = self._state.library
        library.cook(name).log_event("finished")
        library.remove(name, SystemClock().now())


def add_invented_cook(server: Flask, state: AppState) -> None:
    """Registers the buttons' addresses on ``server``."""
    invented = server.extensions[INVENTED_COOK] = InventedCook(state)

    def refusal(error: Exception, status: int) -> Response:
        return as_text(str(error), status)

    def begin() -> Response:
        return as_json({"to": f"/?cook={quote(invented.begin())}"})

    def end() -> Response:
        invented.end()
        return as_json({"to": "/set-up"})

    views: dict[str, Callable[[], Response]] = {"begin": begin, "end": end}
    for word, view in views.items():
        path = f"/set-up-invented-{word}"
        server.add_url_rule(path, path, guarded(view, refusal), methods=["POST"])


def current_invented_cook() -> InventedCook:
    """The invented cook of the application that is answering."""
    invented: InventedCook = current_app.extensions[INVENTED_COOK]
    return invented
