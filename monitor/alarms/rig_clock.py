"""The alarm of a rig whose clock is wrong, from the logger's events."""

from monitor.alarms.intervals import AlarmInterval
from monitor.model import History, clock_offset_text

NAME = "rig clock wrong"
# A clock that is off by less disturbs nobody; the logger corrects it all the same.
WRONG_S, RIGHT_S = 60.0, 30.0


def rig_clock_alarms(history: History, now: float) -> list[AlarmInterval]:
    """When the rig's clock was wrong, up to ``now`` (Unix seconds).

    A rig that only counts from its own start has no clock that could be wrong.
    """
    alarms: list[AlarmInterval] = []
    began: float | None = None
    text = ""
    for event in history.events_of("rig clock"):
        if event.measured > now:
            break
        off_s, own_s = (_seconds(event.fields.get(name)) for name in ("ahead_s", "own_ahead_s"))
        # Where this machine's own clock was set meanwhile, by as much, it was not the rig's that was wrong.
        wrong_s = 0.0 if "counts" in event.fields or abs(off_s - own_s) < WRONG_S else off_s
        if abs(wrong_s) >= (WRONG_S if began is None else RIGHT_S):
            began = event.measured if began is None else began
            text = clock_offset_text(wrong_s)
        elif began is not None:
            alarms.append(
                AlarmInterval(
                    NAME, began, event.measured, "", f"The rig's clock was {text} of this machine's; now they agree."
                )
            )
            began = None
    if began is not None:
        advice = "set the clock that is wrong. Readings go by when they arrive."
        alarms.append(AlarmInterval(NAME, began, None, f"The rig's clock is {text} of this machine's: {advice}"))
    return alarms


def _seconds(value: object) -> float:
    # A recording made elsewhere may hold anything.
    return float(value) if isinstance(value, int | float) else 0.0
