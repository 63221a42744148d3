"""The one line of what is due or wrong that every page shows: its address, and which cook comes first."""

from collections.abc import Iterable, Mapping
from functools import partial
from typing import Any

from flask import Flask, Response

from dashboard.components.answers import as_json, as_text, guarded, told
from dashboard.live.app_state import AppState
from dashboard.live.cook_state import pressing_of, ringing_of

# A due time this near is shown as due; ``10-words.js`` counts it down.
CLOSE_S = 180.0


def add_alert_line_route(server: Flask, state: AppState) -> None:
    """Registers ``/due``, which every open page without a cook of its own asks now and then."""
    server.add_url_rule("/due", "/due", guarded(partial(_due, state), _refusal, state.lock))


def _due(state: AppState) -> Response:
    looks = [pressing_of(state.cook(found.path.stem)) for found in state.running()]
    looks += [ringing_of(state.cook(found.path.stem)) for found in state.library.timed()]
    return as_json(first_of(looks) or {})


def first_of(looks: Iterable[Mapping[str, Any]]) -> Mapping[str, Any] | None:
    """The cook to tell of: one in danger, else one that is due, else one where something is wrong; None for none."""
    return min(looks, key=_rank, default=None)


def _rank(look: Mapping[str, Any]) -> tuple[int, float]:
    left_s = look["next_due"][1] - look["time"] if look["next_due"] else float("inf")
    if look["headline"]:
        return 0, left_s
    if left_s < CLOSE_S:
        return 1, left_s
    return (2 if look["alarm"] else 3), left_s


def _refusal(error: Exception, status: int) -> Response:
    return as_text(told(error), status)
