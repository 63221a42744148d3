"""The button that tests every notification channel, by the same command as on a terminal, in a process of its own.

So the process of the pages never loads the notification library, nor learns its passwords.
"""

import subprocess
import sys
from threading import Lock

from flask import Flask, Response, jsonify, request

from dashboard.app_state import AppState
from monitor.runtime import MonitorError

TIMEOUT_S = 60.0
FAILED = "The test failed:"


def add_self_test_route(server: Flask, state: AppState) -> None:
    """Registers the button's address on ``server``. One test runs at a time."""
    busy = Lock()

    def self_test() -> Response:
        received = request.get_json(silent=True)
        try:
            with state.lock:
                cook = state.cook(str(received.get("cook", "")) if isinstance(received, dict) else "")
                arguments = ["--source", f"{cook.rig}={cook.source}"] if cook.source else ["--rig", cook.rig]
        except MonitorError as error:
            return Response(str(error), 400, mimetype="text/plain")
        if not busy.acquire(blocking=False):
            return Response("A test is under way already.", 409, mimetype="text/plain")
        try:
            return jsonify({"lines": _run_self_test([*arguments, "--recordings", str(state.library.folder)])})
        finally:
            busy.release()

    server.add_url_rule("/try", "/try", self_test, methods=["POST"])


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
