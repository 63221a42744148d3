"""The button that tries every way of telling: the same command as on a terminal, in a process of its own.

So the page's process never loads what carries notices, nor learns its passwords.
"""

import subprocess
import sys
from threading import Lock

from flask import Flask, Response, jsonify, request

from dashboard.app_state import AppState
from monitor.runtime import MonitorError

LONGEST_S = 60.0
WRONG = "The test failed:"


def add_trying(server: Flask, state: AppState) -> None:
    """Registers the button's address on ``server``."""
    busy = Lock()

    def try_all() -> Response:
        asked = request.get_json(silent=True)
        try:
            with state.lock:
                cook = state.cook(str(asked.get("cook", "")) if isinstance(asked, dict) else "")
                words = ["--source", f"{cook.rig}={cook.source}"] if cook.source else ["--rig", cook.rig]
        except MonitorError as error:
            return Response(str(error), 400, mimetype="text/plain")
        if not busy.acquire(blocking=False):
            return Response("A test is under way already.", 409, mimetype="text/plain")
        try:
            return jsonify({"lines": _tried([*words, "--recordings", str(state.library.folder)])})
        finally:
            busy.release()

    server.add_url_rule("/try", "/try", try_all, methods=["POST"])


def _tried(words: list[str]) -> list[str]:
    command = [sys.executable, "-m", "monitor.cli", "notices", "--test", *words]
    try:
        done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, timeout=LONGEST_S, check=False)
    except subprocess.TimeoutExpired:
        return [f"{WRONG} it took longer than {LONGEST_S:.0f} s."]
    except OSError as error:
        return [f"{WRONG} it cannot be run ({error.strerror})."]
    lines = done.stdout.decode(errors="replace").splitlines()
    said = done.stderr.decode(errors="replace").strip()
    # Only what the command says in one sentence is for a person.
    if "\n" in said:
        return [*lines, f"{WRONG} type “kettleside notices --test” where kettleside runs."]
    return [*lines, said.removeprefix("kettleside: ")] if said else lines
