"""The alarm of a gap between wall and paste that is unusual for this cook."""

import numpy as np

from monitor.alarms.heat import HEAT_CHANGED, HEAT_LOGGED_S, logged_near, pot_interval
from monitor.alarms.intervals import AlarmInterval, debounce
from monitor.alarms.window import Window, median

# How far from its own usual the gap between wall and paste may be, degC, once the cooker has settled.
APART_C, TOGETHER_C = 10.0, 7.0
# An open lid alone may cool the paste by ten degrees before anybody can have logged it.
APART_ON_S, APART_OFF_S = 240.0, 60.0
SETTLED_S = 2700.0
# The usual gap is the median of at least this many means from before the latest minutes.
LATEST_S = 600.0
LEAST_MEANS = 60


def gap_alarms(window: Window, start: float) -> list[AlarmInterval]:
    """A gap between wall and paste far from its own usual. start: of the cook, Unix seconds."""
    wall, paste = window.wall, window.paste
    if not len(wall) or not wall.fresh:
        return []
    gap_c = wall.value - np.interp(wall.at, paste.at, paste.value)
    if float(gap_c.max() - gap_c.min()) < APART_C:
        return []
    earlier = (wall.at >= start + SETTLED_S) & (wall.at <= window.now - LATEST_S)
    if np.count_nonzero(earlier) < LEAST_MEANS:
        return []
    usual_c = median(gap_c[earlier])
    off_c = np.abs(gap_c - usual_c)
    beyond = (off_c >= APART_C) & (wall.at >= start + SETTLED_S)
    if not beyond.any():
        return []
    beyond &= ~logged_near(window, wall.at, HEAT_CHANGED, HEAT_LOGGED_S)
    alarms = []
    for interval in debounce(wall.at, beyond, off_c <= TOGETHER_C, APART_ON_S, APART_OFF_S, window.now):
        advice = "stir, and look at both probes" if gap_c[-1] > usual_c else "look at the switch and at both probes"
        text = f"Wall and paste are {abs(gap_c[-1]):.0f} °C apart, usually {abs(usual_c):.0f}: {advice}."
        alarms.append(pot_interval("wall and paste apart", interval, text, "Wall and paste were far apart", window.now))
    return alarms
