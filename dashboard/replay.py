"""The replay of a past cook: what holds for the whole page, and what was known at one moment.

The frame (the scales, the moments to step to, when the cook came clear) comes once with the page and uses the whole
cook. What was known at a moment depends on nothing that became known after it.
"""

import math

import numpy as np

from dashboard.cook_state import cook_state, paste_tenths_c
from dashboard.figures import Grid, ahead_points, curve_points, grid_for
from dashboard.live_delta import span_of
from monitor.model import PERSON_EVENTS, event_text
from monitor.session import Cook

LOW_C, HIGH_C = 20.0, 100.0
# The slider's step: no finer than a pixel of a phone. The logged events are reached exactly, by their own buttons.
STEP_S = 30


def frame_of(cook: Cook) -> dict[str, object]:
    """What stays while a cook is replayed.

    ``curve_origin``, ``bucket_s``: the curve's grid; ``curve_span``: begin and end, Unix seconds; ``scale_c``: degC at
    the drawing's foot and head; ``moments``: [moment, kind, details] to step to; ``came_clear``: between which moments
    it came clear, or null; ``checks``, ``stirs``: all of them, [moment, result] and moment, for what came of a stated
    time; ``finished``: when, or null.
    """
    started, end = span_of(cook)
    history = cook.history()
    grid = grid_for(started, end)
    _, values_c = history.temperature_c("paste")
    real = values_c[np.isfinite(values_c)]
    between = cook.clear_bracket()
    logged = [event for event in history.events if event.kind in PERSON_EVENTS]
    # Rounded up, so that the event is known at the moment that is stepped to.
    moments = [[math.ceil(event.known), event.kind, event_text(event)] for event in logged]
    moments += [[math.floor(started), "", "Begin"], [math.ceil(end), "", "End"]]
    return {
        "curve_origin": grid.origin,
        "bucket_s": grid.width_s,
        "curve_span": [grid.origin, math.ceil(end)],
        "scale_c": [
            min(LOW_C, 10 * math.floor(float(real.min(initial=LOW_C)) / 10)),
            max(HIGH_C, 10 * math.ceil(float(real.max(initial=HIGH_C)) / 10)),
        ],
        "moments": sorted(moments, key=lambda moment: float(str(moment[0]))),
        "came_clear": None if between is None else [None if m is None else round(m) for m in between],
        "checks": [[round(event.measured), event.fields["result"]] for event in history.events_of("checked")],
        "stirs": [round(event.measured) for event in history.events_of("stirred")],
        "finished": history.finished(),
    }


def known_at(cook: Cook, as_of: float | None = None, grid: Grid | None = None) -> dict[str, object]:
    """Everything that was known of a cook at ``as_of`` (Unix seconds, held within the cook; its end if None).

    The keys are those of ``dashboard.cook_state``, with ``time`` the moment, ``clear_at`` when it should be clear (10,
    50 and 90 % points or nulls), the curve as ``dashboard.live_delta`` has it, and ``forecast`` what was expected.
    grid: how the curve is cut, the whole cook's if None.
    """
    started, end = span_of(cook)
    moment = end if as_of is None else min(max(as_of, started), end)
    history, outlook = cook.as_of(moment)
    cut = grid or grid_for(started, end)
    times, values_c = history.temperature_c("paste")
    shown = cook_state(history, outlook)
    over = shown["stage"] in ("finished", "clear")
    return shown | {
        "paste_tenths_c": paste_tenths_c(values_c),
        "time": round(moment, 1),
        "title": history.batch.title if history.batch else cook.rig,
        "rate": 0,
        "clear_at": [None] * 3 if over else [None if m is None else round(m) for m in outlook.estimate.clear_at],
        "curve_origin": cut.origin,
        "from_s": 0,
        "points": curve_points(times, values_c, cut),
        "forecast": [] if shown["stage"] == "finished" else ahead_points(outlook.estimate, cut.origin),
    }
