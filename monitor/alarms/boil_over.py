"""The alarm of a paste that is near boiling over."""

import numpy as np

from monitor.alarms.cooling import WARM_UP_S
from monitor.alarms.heat import pot_interval
from monitor.alarms.intervals import AlarmInterval, debounce
from monitor.alarms.window import Window
from monitor.model import NEAR_BOIL_C

# A paste is headed for its boil when the rise of the last AHEAD_S, added once more, leads this far beyond the limit.
HEADED_C, AHEAD_S = 1.0, 180.0
# A paste has climbed when it is this far above its temperature at both moments of a pair before now (s); both, because
# one may lie in a dip. Sound virtual cooks climb by 6.1 at most once they are warm. Heat that is hardly too much takes
# the hour.
CLIMBED_C, CLIMBS_S = 7.0, ((2400.0, 3000.0), (3300.0, 3900.0))
LOOK_BACK_S = CLIMBS_S[-1][-1]
DEADBAND_C = 1.0
BOIL_ON_S, BOIL_OFF_S = 15.0, 60.0


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
        climbed = np.zeros(len(paste), dtype=bool)
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
    if not len(paste) or float(paste.value.max()) < NEAR_BOIL_C:
        return False
    early = paste.value[paste.at < window.begin + LOOK_BACK_S]
    return bool(np.any(early >= NEAR_BOIL_C))
