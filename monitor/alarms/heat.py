"""Whether the cooker is meant to heat, and what a person logged that explains what the curve does."""

import numpy as np

from monitor.alarms.intervals import AlarmInterval, Exceedance, Flags, duration_text
from monitor.alarms.window import Window
from monitor.model import Floats, History

# What a person did to heat or pot explains the curve from this long before it was logged to this long after.
LOGGED_BEFORE_S, HEAT_LOGGED_S, POURED_S = 60.0, 2700.0, 900.0
HEAT_CHANGED = ("heat", "heat off")
POURED = ("added", "water added", "neutraliser added")


def heat_wanted(history: History, now: float) -> bool:
    """Whether the cooker is meant to be on at ``now`` (Unix seconds): the last event about the heat is not "off"."""
    wanted = True
    for event in history.events:
        if event.measured > now:
            break
        if event.kind == "heat":
            wanted = str(event.fields.get("setting", "")).strip().lower() not in ("off", "0")
        elif event.kind == "heat off":
            wanted = False
    return wanted


def logged_near(window: Window, at: Floats, kinds: tuple[str, ...], lasts_s: float) -> Flags:
    """Where a logged event of these kinds explains what the curve does; at in Unix seconds, shape (n,) as the result.

    lasts_s: for how long after the event.
    """
    flags = np.zeros(len(at), dtype=bool)
    for event in window.history.events:
        if event.kind in kinds and event.measured + lasts_s >= window.begin:
            flags |= (at >= event.measured - LOGGED_BEFORE_S) & (at <= event.measured + lasts_s)
    return flags


def pot_interval(name: str, exceeded: Exceedance, text: str, was: str, now: float) -> AlarmInterval:
    """An alarm interval of the pot. text: while it stands. was: the sentence once it is past, up to its duration."""
    over = f"{was} for {duration_text((exceeded.ended or now) - exceeded.began)}."
    return AlarmInterval(name, exceeded.began, exceeded.ended, text, over)
