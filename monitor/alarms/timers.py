"""The timers that a person set at a step of the batch, as alarms that stand while they ring."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from monitor.alarms.intervals import AlarmInterval
from monitor.model import STEP_TIMERS, Event, StepTimer

# Whoever has not answered by then never will; a recording that is copied or restored must not ring for years.
RINGS_FOR_S = 3 * 86_400.0


@dataclass(frozen=True, slots=True)
class RunningTimer:
    """A timer that was set and is not over. step: as the event has it. began, rings_at: Unix seconds."""

    step: str
    began: float
    rings_at: float
    timer: StepTimer


def running_timers(events: Sequence[Event], now: float) -> Mapping[str, RunningTimer]:
    """By step, the timers that run or ring at ``now`` (Unix seconds); of several of one step the one set last.

    events: of the cook, by the time at which they happened. One that was answered is over.
    """
    found: dict[str, RunningTimer] = {}
    for event in events:
        if event.measured > now:
            continue
        found = {step: one for step, one in found.items() if not _ends(event, one)}
        step, minutes = event.fields.get("step"), event.fields.get("minutes")
        # A recording made elsewhere may hold anything.
        if event.kind == "timer set" and step in STEP_TIMERS and isinstance(minutes, int | float):
            rings_at = event.measured + 60.0 * minutes
            found[str(step)] = RunningTimer(str(step), event.measured, rings_at, STEP_TIMERS[str(step)])
    return {step: one for step, one in found.items() if now < one.rings_at + RINGS_FOR_S}


def timer_alarms(events: Sequence[Event], now: float) -> list[AlarmInterval]:
    """The timers that ring at ``now`` (Unix seconds); other arguments as in ``running_timers``."""
    ringing = (one for one in running_timers(events, now).values() if now >= one.rings_at)
    return [AlarmInterval(one.timer.name, one.rings_at, None, one.timer.text) for one in ringing]


def _ends(event: Event, one: RunningTimer) -> bool:
    if event.kind in one.timer.over_by:
        return True
    if event.measured < one.rings_at:
        return False
    is_answer = event.kind == "acknowledged" and event.fields.get("condition") == one.timer.name
    return is_answer or event.kind in one.timer.answered_by
