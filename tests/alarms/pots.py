"""Small made-up pots: readings as arrays, events beside them."""

from dataclasses import replace

import numpy as np

from monitor.alarms.active import DueTimes, active_alarms
from monitor.model import Event, Floats, History, make_event, series_from

START = 1_780_300_800.0
STEP_C = 0.25


def stepped(value: Floats) -> Floats:
    """As a converter with quarter degrees says it."""
    said: Floats = np.round(value / STEP_C) * STEP_C
    return said


def steady(length_s: float, every_s: float = 1.0, noise_c: float = 0.2, seed: int = 1) -> tuple[Floats, Floats]:
    """A paste on its plateau, read every so often."""
    at = START + np.arange(0.0, length_s, every_s)
    return at, stepped(94.0 + np.random.default_rng(seed).normal(0.0, noise_c, len(at)))


def paste_of(at: Floats, value: Floats, *events: Event, fault: str = "open circuit") -> History:
    """A cook whose lid went on at ``START``, with this paste."""
    faults = [(int(i), fault) for i in np.flatnonzero(np.isnan(value))]
    lid = make_event("lid", "lid on", START, START)
    logged = tuple(sorted([lid, *events], key=lambda event: event.measured))
    return History(START, float(at[-1]), {"paste": series_from("paste", "Cel", at, at, value, faults)}, logged)


def answered(history: History, kind: str, at_s: float, **fields: float | str) -> History:
    """The history with one event more, so many seconds after ``START``."""
    event = make_event(f"{kind} {at_s}", kind, START + at_s, START + at_s, fields)
    return replace(history, logged=tuple(sorted([*history.logged, event], key=lambda event: event.measured)))


def standing(history: History, now: float, due: DueTimes | None = None) -> dict[str, str]:
    """Each condition's state, by its name."""
    return {one.name: one.state for one in active_alarms(history, now, due)}
