"""The alarms of the pot: near boiling over, an open lid, cold, cooling, wall and paste far apart."""

import math

import numpy as np
from numpy.typing import NDArray

from monitor.alarms.intervals import AlarmInterval, Exceedance, Flags, debounce, duration_text
from monitor.alarms.window import BinMeans, Window, median
from monitor.detection import CAUSE_TEXT, LASTING_C, THIRD_S, Cause, cause_at, falls, least_of_thirds
from monitor.model import NEAR_BOIL_C, Floats, History, first_warm

# What a person did to heat or pot explains the curve from this long before it was logged to this long after.
LOGGED_BEFORE_S, HEAT_LOGGED_S, POURED_S = 60.0, 2700.0, 900.0
HEAT_CHANGED = ("heat", "heat off")
POURED = ("added", "water added", "neutraliser added")
# A paste is headed for its boil when the rise of the last AHEAD_S, added once more, leads this far beyond the limit.
HEADED_C, AHEAD_S = 1.0, 180.0
# A paste has climbed when it is this far above its temperature at both moments of a pair before now (s); both, because
# one may lie in a dip. Sound virtual cooks climb by 6.1 at most once they are warm. Heat that is hardly too much takes
# the hour.
CLIMBED_C, CLIMBS_S = 7.0, ((2400.0, 3000.0), (3300.0, 3900.0))
LOOK_BACK_S = CLIMBS_S[-1][-1]
DEADBAND_C = 1.0
BOIL_ON_S, BOIL_OFF_S = 15.0, 60.0
# A lid is logged when it is on again, and was off for this long before at the most (judgement).
LID_OPEN_S = 120.0
LID_OFF_S = 600.0
# A paste that rises by this much in this time has its lid on.
LID_ON_RISE_C, LID_ON_RISE_S = 1.0, 300.0
# Below this the soap hardly goes on (judgement); a cook is given this long to warm up.
COLD_C, WARM_C = 70.0, 72.0
WARM_UP_S = 3600.0
COLD_ON_S, COLD_OFF_S = 45.0, 60.0
FALL_ON_S = 15.0
COOLING_FROM_S = 1200.0
# The alarm ends when the paste is up by this in three minutes, or has lost less than this in ten.
RISE_C = 0.3
LEVEL_S, LEVEL_C = 600.0, 0.3
FALL_OFF_S = 45.0
LIFTED = ("stirred", "checked", "looked")
# How far from its own usual the gap between wall and paste may be, degC, once the cooker has settled.
APART_C, TOGETHER_C = 10.0, 7.0
# An open lid alone may cool the paste by ten degrees before anybody can have logged it.
APART_ON_S, APART_OFF_S = 240.0, 60.0
SETTLED_S = 2700.0
# The usual gap is the median of at least this many means from before the latest minutes.
LATEST_S = 600.0
LEAST_MEANS = 60


def pot_alarms(window: Window) -> list[AlarmInterval]:
    """Every alarm interval of the pot, the gravest kind first."""
    measured = window.paste.fresh
    start = window.start
    if start is None or start > window.now:
        # A paste that boils over is a danger whatever was logged, the lid or nothing.
        warm = first_warm(window.history)
        return boil_over_alarms(window, warm) if measured and warm is not None else []
    alarms = boil_over_alarms(window, start) if measured else []
    lid = lid_alarms(window, start)
    alarms += lid
    if not measured or not heat_wanted(window.history, window.now):
        return alarms
    cold = cold_alarms(window, start)
    # A cold paste and a lid that was logged off say the same more plainly than a cooling one.
    plainer = any(one.ended is None for one in (*cold, *lid))
    alarms += [one for one in cooling_alarms(window, start) if one.ended is not None or not plainer]
    alarms += cold
    alarms += gap_alarms(window, start)
    return alarms


def boil_over_alarms(window: Window, start: float) -> list[AlarmInterval]:
    """A paste that is hotter than a sound one can read, or that gets hot as a sound one never does.

    start: of the cook, Unix seconds. While the cook warms up, the reaction's own heat may raise a sound paste by
    degrees a minute, and ends by itself under the limit; so in that time only the temperature reached counts. Later
    nothing but too much heat does that.
    """
    if float(window.paste.value.max()) < NEAR_BOIL_C:
        return []
    paste, warm_at = window.paste_minutes, start + WARM_UP_S
    limit_c = NEAR_BOIL_C + window.paste_tolerance_c
    with np.errstate(invalid="ignore"):
        headed = 2.0 * paste.value - paste.before(AHEAD_S) >= limit_c + HEADED_C
        climbed = np.zeros(len(paste.at), dtype=bool)
        for less_s, more_s in CLIMBS_S:
            rise_c = paste.value - np.maximum(paste.before(less_s), paste.before(more_s))
            climbed |= (rise_c >= CLIMBED_C) & (paste.at >= warm_at + less_s)
    near = (paste.value >= NEAR_BOIL_C) & ((headed & (paste.at >= warm_at)) | climbed)
    calm = (paste.value < NEAR_BOIL_C - DEADBAND_C) & ~headed
    hot, cooler = paste.value >= limit_c, paste.value < limit_c - DEADBAND_C
    alarms = []
    for interval in (
        *debounce(paste.at, near, calm, BOIL_ON_S, BOIL_OFF_S, window.now),
        *debounce(paste.at, hot, cooler, BOIL_ON_S, BOIL_OFF_S, window.now),
    ):
        text = f"The paste is near boiling over, {paste.value[-1]:.0f} °C: turn the heat down and stir; it is caustic."
        alarms.append(pot_interval("near boil-over", interval, text, "The paste was near boiling over", window.now))
    return alarms


def hot_at_first(window: Window) -> bool:
    """Whether the paste was hot so early in the window that the beginning of its rise lies before the window."""
    paste = window.paste
    if float(paste.value.max(initial=-math.inf)) < NEAR_BOIL_C:
        return False
    early = paste.value[paste.at < window.begin + LOOK_BACK_S]
    return bool(np.any(early >= NEAR_BOIL_C))


def lid_alarms(window: Window, start: float) -> list[AlarmInterval]:
    """A lid that was logged off and never on again, unless the rise of the paste shows that it is on.

    start: of the cook, Unix seconds.
    """
    off = lid_off_since(window.history, start, window.now)
    if off is None or window.now - off < LID_OFF_S or "heat off" in {event.kind for event in window.history.events}:
        return []
    paste = window.paste
    if paste.fresh:
        gained_c = float(paste.value[-1] - paste.before(LID_ON_RISE_S)[-1])
        if gained_c >= LID_ON_RISE_C and not math.isnan(gained_c):
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


def cold_alarms(window: Window, start: float) -> list[AlarmInterval]:
    """A paste that is too cold to cook, once the cook has had its time to warm up. start: Unix seconds."""
    paste = window.paste
    beyond = (paste.value < COLD_C) & (paste.at >= start + WARM_UP_S)
    if not beyond.any():
        return []
    alarms = []
    for interval in debounce(paste.at, beyond, paste.value >= WARM_C, COLD_ON_S, COLD_OFF_S, window.now):
        text = f"The paste is cold, {paste.value[-1]:.0f} °C: look at the cooker's switch and lid."
        alarms.append(pot_interval("paste cold", interval, text, "The paste was too cold to cook", window.now))
    return alarms


def cooling_alarms(window: Window, start: float) -> list[AlarmInterval]:
    """A paste that falls in each third of nine minutes and for no known reason, with the cause that the curve shows."""
    value = window.paste.value
    if float(value.max() - value.min()) < 3.0 * LASTING_C[0]:
        return []
    paste = window.paste_minutes
    first_c = paste.before(3.0 * THIRD_S)
    if not np.count_nonzero(first_c - paste.value >= 3.0 * LASTING_C[0]):
        return []
    one_back_c, two_back_c = paste.before(THIRD_S), paste.before(2.0 * THIRD_S)
    with np.errstate(invalid="ignore"):
        least = least_of_thirds(paste.value, one_back_c, two_back_c, first_c)
        beyond = (least >= LASTING_C[0]) & (paste.at >= start + COOLING_FROM_S)
        if not beyond.any():
            return []
        beyond &= least >= np.array(LASTING_C)[_explained_thirds(window, paste, start)]
        back = (paste.value - one_back_c >= RISE_C) | (paste.before(LEVEL_S) - paste.value < LEVEL_C)
    beyond &= ~logged_near(window, paste.at, HEAT_CHANGED, HEAT_LOGGED_S)
    beyond &= ~logged_near(window, paste.at, POURED, POURED_S)
    exceeded = debounce(paste.at, beyond, back, FALL_ON_S, FALL_OFF_S, window.now)
    if not exceeded:
        return []
    seen = falls(window.history, window.now)
    alarms = []
    for interval in exceeded:
        place = min(int(np.searchsorted(paste.at, interval.began + FALL_ON_S)), len(paste.at) - 1)
        lost_c = float(first_c[place] - paste.value[-1])
        # A lid that was logged off is no question.
        lid_off = lid_off_since(window.history, start, interval.began) is not None
        cause = Cause.LID_OPEN if lid_off else cause_at(seen, interval.began)
        text = f"The paste is cooling, {lost_c:.0f} °C lost, {CAUSE_TEXT[cause].alarm}"
        name = "lid left off" if lid_off else "paste cooling"
        alarms.append(pot_interval(name, interval, text, "The paste was cooling", window.now))
    return alarms


def _explained_thirds(window: Window, paste: BinMeans, start: float) -> NDArray[np.intp]:
    """The number of thirds before each mean, 0 to 3, in which the paste may fall for a known reason; shape (n,).

    A lid lifted for a stir explains the thirds around it. While a cook warms up, the reaction's heat lifts a paste
    above the temperature at which its cooker keeps it, and fades; that explains two.
    """
    lifted_at = [event.measured for event in window.history.events if event.kind in LIFTED]
    thirds = []
    for back_s in (0.0, THIRD_S, 2.0 * THIRD_S):
        falls = np.zeros(len(paste.at), dtype=bool)
        for event in lifted_at:
            since_s = paste.at - back_s - event
            falls |= (since_s > -LID_OPEN_S) & (since_s < THIRD_S)
        thirds.append(falls)
    lifted = np.where(thirds[0], np.sum(thirds, axis=0), 0)
    fades = (paste.at < start + WARM_UP_S) & (paste.value >= WARM_C)
    return np.maximum(lifted, np.where(fades, 2, 0))


def gap_alarms(window: Window, start: float) -> list[AlarmInterval]:
    """A gap between wall and paste far from its own usual. start: of the cook, Unix seconds."""
    wall, paste = window.wall, window.paste
    if not wall.fresh:
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
