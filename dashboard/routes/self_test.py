"""The button that tests every notification channel, by the same command as on a terminal, in a process of its own.

So the process of the pages never loads the notification library, nor learns its passwords.
"""

import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from threading import Lock, Thread

from flask import Flask, Response, current_app, jsonify, request

from dashboard.live.app_state import AppState
from monitor.runtime import MonitorError

TIMEOUT_S = 60.0
SELF_TEST = "kettleside-self-test"
FAILED = "The test failed:"


class SelfTest:
    """Runs the test, one at a time.

    lines: what the latest told that was begun by ``begin``; None while it is under way or before the first.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._busy = Lock()
        self.lines: list[str] | None = None

    def run(self, arguments: Sequence[str]) -> list[str]:
        """Tests, and gives what was told. arguments: which rigs, as the command takes them. Raises BusyError."""
        if not self._busy.acquire(blocking=False):
            raise BusyError
        try:
            return _run_self_test([*arguments, "--recordings", str(self._folder)])
        finally:
            self._busy.release()

    def begin(self) -> None:
        """Begins a test for the rigs whose cooks run, in a thread of its own; one that is under way goes on."""
        if self._busy.locked():
            return
        self.lines = None
        Thread(target=self._run_aside, name="test of the notices", daemon=True).start()

    def _run_aside(self) -> None:
        with suppress(BusyError):
            self.lines = self.run([])


class BusyError(MonitorError):
    """A test is under way."""

    def __init__(self) -> None:
        super().__init__("A test is under way already.")


def add_self_test_route(server: Flask, state: AppState) -> None:
    """Registers the button's address on ``server``."""
    test = server.extensions[SELF_TEST] = SelfTest(state.library.folder)

    def self_test() -> Response:
        received = request.get_json(silent=True)
        try:
            with state.lock:
                cook = state.cook(str(received.get("cook", "")) if isinstance(received, dict) else "")
                arguments = ["--source", f"{cook.rig}={cook.source}"] if cook.source else ["--rig", cook.rig]
            return jsonify({"lines": test.run(arguments)})
        except BusyError as error:
            return Response(str(error), 409, mimetype="text/plain")
        except MonitorError as error:
            return Response(str(error), 400, mimetype="text/plain")

    server.add_url_rule("/try", "/try", self_test, methods=["POST"])


def current_self_test() -> SelfTest:
    """The test of the application that is answering."""
    test: SelfTest = current_app.extensions[SELF_TEST]
    return test


def _run_self_test(arguments: list[str]) -> list[str]:
    """The lines that the command printed, for a person; a failure is one more line."""
    command = [sys.executable, "-m", "monitor.cli", "notices", "--test", *arguments]
    try:
        done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, timeout=TIMEOUT_S, check=False)
    except subprocess.TimeoutExpired:
        return [f"{FAILED} it took longer than {TIMEOUT_S:.0f} s."]
    except OSError as error:
        return [f"{FAILED} it cannot be run ({error.strerror})."]
    lines = done.stdout.decode(errors="replace").splitlines()
    error_text = done.stderr.decode(errors="replace").strip()
    # One sentence is meant for a person; a traceback is not.
    if "\n" in error_text:
        return [*lines, f"{FAILED} type “kettleside notices --test” where kettleside runs."]
    return [*lines, error_text.removeprefix("kettleside: ")] if error_text else lines
