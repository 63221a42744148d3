"""The alarms of a paste that is cold, or that cools although the heat is on."""

import numpy as np
from numpy.typing import NDArray

from monitor.alarms.heat import HEAT_CHANGED, HEAT_LOGGED_S, POURED, POURED_S, logged_near, pot_interval
from monitor.alarms.intervals import AlarmInterval, debounce
from monitor.alarms.lid import LID_OPEN_S, lid_off_since
from monitor.alarms.window import BinMeans, Window
from monitor.detection import CAUSE_TEXT, LASTING_C, THIRD_S, Cause, cause_at, falls, least_of_thirds

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


def cold_alarms(window: Window, start: float) -> list[AlarmInterval]:
    """A paste that is too cold to cook, once the cook has had its time to warm up. start: Unix seconds."""
    paste = window.paste
    beyond = (paste.value < COLD_C) & (paste.at >= start + WARM_UP_S)
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
        place = min(int(np.searchsorted(paste.at, interval.began + FALL_ON_S)), len(paste) - 1)
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
    thirds = []
    for back_s in (0.0, THIRD_S, 2.0 * THIRD_S):
        falls = np.zeros(len(paste), dtype=bool)
        for event in window.history.events_of(*LIFTED):
            since_s = paste.at - back_s - event.measured
            falls |= (since_s > -LID_OPEN_S) & (since_s < THIRD_S)
        thirds.append(falls)
    lifted = np.where(thirds[0], np.sum(thirds, axis=0), 0)
    fades = (paste.at < start + WARM_UP_S) & (paste.value >= WARM_C)
    return np.maximum(lifted, np.where(fades, 2, 0))
