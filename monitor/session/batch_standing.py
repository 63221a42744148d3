"""Where a batch stands, as a pure function of its events: its steps, what of them is done and next, and a few words.

Steps are offered, never asked for: one that was passed over unlogged is left so.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from monitor.alarms import SILENCE_S, RunningTimer, is_fresh, running_timers
from monitor.model import DOSE_MIN, REST_H, Event, History, clear_since, local
from monitor.session.batch_steps import AFTER_CLEAR, BEFORE_LID, DOSE, PROBE, REST, SETTLING, BatchStep

# Overnight, for the paste to take up the water; a quarter of an hour, for a dose to work. Common practice, no source.
# A paste that nobody has gone on with for so long is no batch in hand any more.
FORGOTTEN_S = 14 * 86_400.0
WITHIN_A_WEEK_S = 6.5 * 86_400.0


@dataclass(frozen=True, slots=True)
class StepState:
    """A step of one batch. state: ``done``, ``next``, ``open``, or ``passed``, which nobody logged and a later one was.

    when: when it was done or, of one that takes its time, until when it lasts; Unix seconds or None. is_timed: whether
    its timer runs.
    """

    step: BatchStep
    state: str
    when: float | None
    is_timed: bool = False


def stage_of(history: History, started: bool) -> str:
    """Where in its course a batch is, by what was logged: ``before`` the lid, ``cooking``, ``clear``, ``finished``, or
    ``after`` where it has been worked at since. started: whether the estimate counts already."""
    ended = history.finished()
    if ended is not None:
        return "after" if _is_worked_at(history.events, ended) else "finished"
    if clear_since(history.events_of("checked")) is not None:
        return "clear"
    return "cooking" if started or history.events_of("lid on", "stirred", "checked") else "before"


def steps_of(history: History, stage: str, now: float, rate: float = 1.0) -> list[StepState]:
    """The steps of a stage, those of its half of the batch; none while it cooks.

    now: Unix seconds. rate: seconds of the cook in one real second.
    """
    if stage == "before":
        return _states(history.events, BEFORE_LID, {PROBE: (_is_heard(history, now, rate), None)}, now)
    return after_steps(history.events, now) if stage in ("clear", "finished", "after") else []


def after_steps(events: Sequence[Event], now: float) -> list[StepState]:
    """The steps after a clear sample. events: those that stand, in their order. now: Unix seconds."""
    running = running_timers(events, now)
    own = {kind: _lasts(events, kind, running.get(kind), now) for kind in (REST, DOSE, SETTLING)}
    return _states(events, AFTER_CLEAR, own, now)


def next_step(steps: Sequence[StepState]) -> StepState | None:
    """The one that is offered; None where all are done."""
    return next((one for one in steps if one.state == "next"), None)


def standing(events: Sequence[Event], now: float) -> str:
    """Where a batch stands after its clear sample, in a few words; empty where nobody goes on with it.

    events: those that stand, in their order. now: Unix seconds.
    """
    bottled = [event for event in events if event.kind == "bottled"]
    if bottled:
        count = sum(n for event in bottled if isinstance(n := event.fields.get("bottles"), int | float))
        return f"in {count:g} bottle{'' if count == 1 else 's'}" if count else "in bottles"
    ended = max((event.measured for event in events if event.kind == "finished"), default=None)
    checks = [event for event in events if event.kind == "checked"]
    if ended is None or clear_since(checks) is None:
        return ""
    steps = after_steps(events, now)
    resting = next((one.when for one in steps if one.step.timer and one.when and one.when > now), None)
    if resting is not None:
        return f"resting until {_until(resting, now)}"
    reached = [one.step.stands for one in steps if one.state == "done" and one.step.stands]
    if reached:
        return reached[-1]
    return "paste, not diluted yet" if 0.0 <= now - ended < FORGOTTEN_S else ""


def is_in_hand(events: Sequence[Event], now: float) -> bool:
    """Whether a finished batch is on its way to its bottles. Arguments as for ``standing``."""
    latest = max((event.measured for event in events), default=0.0)
    is_bottled = any(event.kind == "bottled" for event in events)
    is_recent = now - latest < FORGOTTEN_S or bool(running_timers(events, now))
    return not is_bottled and is_recent and bool(standing(events, now))


def _until(moment: float, now: float) -> str:
    at = local(moment)
    if at.date() == local(now).date():
        return f"{at:%H:%M}"
    return f"{at:%A}" if moment - now < WITHIN_A_WEEK_S else f"{at:%A}, {at.day} {at:%b}"


def _is_worked_at(events: Sequence[Event], ended: float) -> bool:
    kinds = {step.kind for step in AFTER_CLEAR[2:]} | {"timer set"}
    return any(event.kind in kinds and event.measured >= ended for event in events)


def _latest(events: Sequence[Event], *kinds: str) -> Mapping[str, float]:
    return {event.kind: event.measured for event in events if event.kind in kinds}


def _states(
    events: Sequence[Event], steps: Sequence[BatchStep], own: Mapping[str, tuple[bool, float | None]], now: float
) -> list[StepState]:
    """own: of the steps that tick themselves, whether they are done and the time that is told."""
    # A soap that is cloudy yet waits on.
    counted = [event for event in events if event.fields.get("look") != "cloudy"]
    logged = _latest(counted, *(step.kind for step in steps))
    running = running_timers(events, now)
    reached = max((place for place, step in enumerate(steps) if step.kind in logged), default=-1)
    found: list[StepState] = []
    is_next_found = False
    for place, step in enumerate(steps):
        done, when = own.get(step.kind, (step.kind in logged, logged.get(step.kind)))
        if not done and step.kind in (REST, DOSE, SETTLING) and when is not None and place < reached:
            # What takes its time is over with the first step that comes after it.
            done, when = True, None
        state = "done" if done else "passed" if place < reached else "open" if is_next_found else "next"
        is_next_found = is_next_found or state == "next"
        if when is None and step.timer in running:
            when = running[step.timer].rings_at
        found.append(StepState(step, state, when, step.timer in running))
    return found


def _is_heard(history: History, now: float, rate: float) -> bool:
    paste, (_, values_c) = history.by_role("paste"), history.temperature_c("paste")
    if paste is None or not len(values_c) or not math.isfinite(values_c[-1]):
        return False
    return is_fresh(paste, now, SILENCE_S * rate)


# What each of the steps that tick themselves begins with, and how long it lasts without a timer.
_BEGINS: Mapping[str, tuple[str, float]] = {
    REST: ("water added", 3600.0 * REST_H),
    DOSE: ("neutraliser added", 60.0 * DOSE_MIN),
}


def _lasts(events: Sequence[Event], kind: str, running: RunningTimer | None, now: float) -> tuple[bool, float | None]:
    """Whether such a step is done by ``now``, and until when it lasts."""
    if running is not None:
        return now >= running.rings_at, running.rings_at
    sets = [event for event in events if event.kind == "timer set" and event.fields.get("step") == kind]
    if kind not in _BEGINS:
        # Its timer is over: it rang and was answered.
        return bool(sets), sets[-1].measured if sets else None
    begins, lasts_s = _BEGINS[kind]
    began = _latest(events, begins).get(begins)
    return (False, None) if began is None else (now >= began + lasts_s, began + lasts_s)
