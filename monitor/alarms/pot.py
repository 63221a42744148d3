"""The alarms of the pot: cold, cooling, an open lid, near boiling over, wall and paste far apart."""

from monitor.alarms.boil_over import boil_over_alarms
from monitor.alarms.cooling import cold_alarms, cooling_alarms
from monitor.alarms.gap import gap_alarms
from monitor.alarms.heat import heat_wanted
from monitor.alarms.intervals import AlarmInterval
from monitor.alarms.lid import lid_alarms
from monitor.alarms.window import Window
from monitor.model import cook_start, first_warm


def pot_alarms(window: Window) -> list[AlarmInterval]:
    """Every alarm interval of the pot, the gravest kind first."""
    measured = bool(len(window.paste)) and window.paste.fresh
    start = cook_start(window.history, window.now)
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
