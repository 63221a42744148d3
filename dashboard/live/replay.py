"""The replay of a past cook: what holds for the whole page, what was known at one moment, and the course as of then.

The frame (the axis, the moments to step to, when the cook came clear) comes once with the page and uses the whole cook.
What was known at a moment depends on nothing that became known after it.
"""

import math
from dataclasses import replace
from typing import Any

from dashboard.live.cook_state import cook_state, paste_tenths_c
from dashboard.live.live_delta import span_of
from monitor.exchange import events_frame, readings_frame
from monitor.model import PERSON_EVENTS, History, role
from monitor.plots import course, course_span
from monitor.session import Cook


def frame_of(cook: Cook) -> dict[str, object]:
    """What stays while a cook is replayed.

    ``begin``, ``end``: of the axis, Unix seconds; ``first``, ``last``: the moments between which something is known;
    ``moments``: those to step to.
    """
    first, last = span_of(cook)
    history = cook.history()
    over = cook.finished() is not None
    begin, end = course_span(*_frames(history, "UTC"), None if over else cook.outlook(last).estimate)
    # Rounded up, so that the event is known at the moment that is stepped to.
    logged = {math.ceil(event.known) for event in history.events if event.kind in PERSON_EVENTS}
    inside = {moment for moment in logged if max(begin, first) <= moment <= last}
    return {
        "begin": math.floor(begin),
        "end": math.ceil(end),
        "first": math.floor(max(begin, first)),
        "last": math.ceil(last),
        "moments": sorted({*inside, math.floor(max(begin, first)), math.ceil(last)}),
    }


def what_came(cook: Cook) -> dict[str, object]:
    """What came of all that was stated, by the whole cook.

    ``came_clear``: between which moments it came clear, Unix seconds, or null; ``checks``, ``stirs``: all of them,
    [moment, result] and moment; ``over``: whether the cook has ended.
    """
    history, between = cook.history(), cook.clear_bracket()
    return {
        "came_clear": None if between is None else [None if m is None else round(m) for m in between],
        "checks": [[round(event.measured), event.fields["result"]] for event in history.events_of("checked")],
        "stirs": [round(event.measured) for event in history.events_of("stirred")],
        "over": cook.finished() is not None,
    }


def course_at(cook: Cook, moment: float | None, span: tuple[float, float], zone: str) -> Any:
    """The course of a cook as it was known at a moment (Unix seconds), or of the whole cook if None.

    span: from when to when its axis runs, Unix seconds. zone: in which its clocks are read.
    """
    if moment is None and cook.finished() is not None:
        return course(*_frames(cook.history(), zone), span=span)
    history, outlook = cook.as_of(span_of(cook)[1] if moment is None else moment)
    return course(*_frames(history, zone), outlook.estimate, span=span)


def _frames(history: History, zone: str) -> tuple[Any, Any]:
    """The paste's readings and the events. The other channels would cost time, and are not drawn."""
    own = {name: series for name, series in history.series.items() if role(name) == "paste"}
    readings, events = readings_frame(replace(history, series=own)), events_frame(history)
    return readings.tz_convert(zone), events


def known_at(cook: Cook, as_of: float) -> dict[str, object]:
    """What was known of a cook at ``as_of`` (Unix seconds, held within the cook), but its course.

    The keys are those of ``dashboard.live.cook_state``, with ``time`` the moment, and ``clear_at`` when it should be
    clear (10, 50 and 90 % points or nulls).
    """
    started, end = span_of(cook)
    moment = min(max(as_of, started), end)
    history, outlook = cook.as_of(moment)
    shown = cook_state(history, outlook)
    over = shown["stage"] in ("finished", "clear")
    return shown | {
        "paste_tenths_c": paste_tenths_c(history.temperature_c("paste")[1]),
        "time": round(moment, 1),
        "title": history.batch.title if history.batch else cook.rig,
        "rate": 0,
        "clear_at": [None] * 3 if over else [None if m is None else round(m) for m in outlook.estimate.clear_at],
    }
