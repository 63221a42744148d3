"""The alarm of a lid that was logged off and never on again."""

import math

from monitor.alarms.intervals import AlarmInterval, duration_text
from monitor.alarms.window import Window
from monitor.model import History

# A lid is logged when it is on again, and was off for this long before at the most (judgement).
LID_OPEN_S = 120.0
LID_OFF_S = 600.0
# A paste that rises by this much in this time has its lid on.
RISE_C, RISE_S = 1.0, 300.0


def lid_alarms(window: Window, start: float) -> list[AlarmInterval]:
    """A lid that was logged off and never on again, unless the rise of the paste shows that it is on.

    start: of the cook, Unix seconds.
    """
    off = lid_off_since(window.history, start, window.now)
    if off is None or window.now - off < LID_OFF_S or window.history.events_of("heat off"):
        return []
    paste = window.paste
    if len(paste) and paste.fresh:
        gained_c = float(paste.value[-1] - paste.before(RISE_S)[-1])
        if gained_c >= RISE_C and not math.isnan(gained_c):
            return []
    text = f"The lid has been off for {duration_text(window.now - off)}: put it on, or log that it is."
    return [AlarmInterval("lid left off", off + LID_OFF_S, None, text)]


def lid_off_since(history: History, start: float, now: float) -> float | None:
    """Since when the lid is off by the log, Unix seconds; None where it is on. start, now: Unix seconds."""
    off: float | None = None
    for event in history.events:
        if event.measured > now:
            break
        if event.kind == "lid off" and event.measured >= start:
            off = event.measured if off is None else off
        elif event.kind == "lid on":
            off = None
    return off
