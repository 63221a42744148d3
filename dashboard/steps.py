"""What is done before the lid and after a clear sample, step by step, ticked by what the log holds.

Steps are offered, never asked for: one that was passed over unlogged is left so.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from monitor.alarms import SILENCE_S, is_fresh
from monitor.model import History

# Overnight, for the paste to take up the water.
REST_S = 8 * 3600.0


@dataclass(frozen=True, slots=True)
class CookStep:
    """kind: of the event that ticks it; one without an event ticks itself. words: in the strip.

    headline, caution: while it is the next one. page: of the bench, where it is worked out and logged; may be empty.
    """

    kind: str
    words: str
    headline: str = ""
    caution: str = ""
    page: str = ""


PROBE, REST = "probe", "rest"
BEFORE_LID = (
    CookStep("oils melted", "Oils melted", "Melt the oils", "Until nothing solid is left. Hot oil burns."),
    CookStep(
        "lye cooled",
        "Lye cooled",
        "Let the lye cool",
        "KOH into the water, never water onto KOH. Goggles and gloves.",
    ),
    CookStep("lye in", "Lye in", "Pour the lye in", "Slowly, stirring. Goggles and gloves; nothing of aluminium."),
    CookStep("thick trace", "Thick trace", "Blend to thick trace", "Keep the blender's head under: it spits caustic."),
    CookStep(PROBE, "Probe in and heard", "Put the probe in", "Through the vent or under the rim, away from the wall."),
    CookStep("lid on", "Lid on", "Put the lid on", "Stay near: hot paste can climb over the rim."),
)
AFTER_CLEAR = (
    CookStep("heat off", "Heat off"),
    CookStep("paste weighed", "Weigh the paste", page="dilute"),
    CookStep("water added", "Dilute", page="dilute"),
    CookStep(REST, "Rest overnight", page="dilute"),
    CookStep("neutraliser added", "Neutralise", page="neutralise"),
    CookStep("bottled", "Settle and bottle", page="bottle"),
)


def steps_of(history: History, stage: str, now: float, rate: float = 1.0) -> list[list[object]]:
    """The steps of a stage ("before", "clear" or "finished"; none otherwise), ready for JSON.

    Each is [words, state, when, page of the bench]; the state is ``done``, ``next``, ``open`` or ``passed``, which was
    not logged and a later one was; when it was done or, of one that takes its time, until when it lasts, Unix seconds
    or null. rate: seconds of the cook in one real second.
    """
    if stage == "before":
        found = _with_states(history, BEFORE_LID, {PROBE: (_is_heard(history, now, rate), None)})
    elif stage in ("clear", "finished"):
        found = _with_states(history, AFTER_CLEAR, {REST: _rest(history, now)})
    else:
        return []
    return [[step.words, state, when, step.page] for step, state, when in found]


def next_step(history: History, now: float, rate: float = 1.0) -> CookStep:
    """The next one before the lid."""
    states = _with_states(history, BEFORE_LID, {PROBE: (_is_heard(history, now, rate), None)})
    return next((step for step, state, _ in states if state == "next"), BEFORE_LID[-1])


def _latest(history: History, steps: Sequence[CookStep]) -> Mapping[str, float]:
    kinds = [step.kind for step in steps]
    return {event.kind: event.measured for event in history.events_of(*kinds)}


def _with_states(
    history: History, steps: Sequence[CookStep], own: Mapping[str, tuple[bool, float | None]]
) -> list[tuple[CookStep, str, int | None]]:
    """own: of the steps that tick themselves, whether they are done and the time that is told."""
    logged = _latest(history, steps)
    reached = max((place for place, step in enumerate(steps) if step.kind in logged), default=-1)
    found: list[tuple[CookStep, str, int | None]] = []
    is_next_found = False
    for place, step in enumerate(steps):
        done, when = own.get(step.kind, (step.kind in logged, logged.get(step.kind)))
        state = "done" if done else "passed" if place < reached else "open" if is_next_found else "next"
        is_next_found = is_next_found or state == "next"
        found.append((step, state, None if when is None else round(when)))
    return found


def _is_heard(history: History, now: float, rate: float) -> bool:
    paste, (_, values_c) = history.by_role("paste"), history.temperature_c("paste")
    if paste is None or not len(values_c) or not np.isfinite(values_c[-1]):
        return False
    return is_fresh(paste, now, SILENCE_S * rate)


def _rest(history: History, now: float) -> tuple[bool, float | None]:
    diluted = _latest(history, AFTER_CLEAR).get("water added")
    return (False, None) if diluted is None else (now >= diluted + REST_S, diluted + REST_S)
