"""What a page shows of a cook at one moment, as JSON, rounded to what a person can use.

| key | what |
| --- | --- |
| title, rate | the cook's title; seconds of cook time in one real second |
| stage, first_buttons | as ``monitor.session.stage_of`` has it; the kinds of event to offer first |
| finished | when the cook was finished, Unix seconds or null |
| steps | before the lid and after a clear sample: [words, state, when, page of the bench] of each step, else none |
| next_step | what to do next: [headline, its line, the kind of event that ticks it, page of the bench where that is
  logged, its timer unless that runs, that timer's minutes, until when it lasts]; kind, page and timer may be empty,
  minutes are null for the next morning, and the last is null where nothing lasts; else null |
| stands | of a batch after its cook, where it stands in a few words, or empty |
| stir_due, check_due | when to stir and to check, Unix seconds or null |
| give_or_take_min | how far off the check's due time may be, minutes either way, or null |
| stir_reason, check_reason | one sentence each |
| done | of the cooking that this paste needs, per thousand, at the 10, 50 and 90 % points; null where it is not told |
| converted | per thousand, at the 10, 50 and 90 % points, or null before the start |
| chance_clear | that a check made now reads clear, per cent, or null before the start |
| paste_tenths_c | the paste's temperature in tenths of a degree C, or null where there is no reading |
| alarms | [sentence, since when, state, name, until when, uid, address of what to do] of each; the state is one of
  ``monitor.alarms``. Only one that has returned or is shelved has an until, and
  only one that is shelved the uid of the event that shelved it |
| headline | the danger that goes before all that is due: [its name, since when], or null |
| waits | why neither a stir nor a check is due although its time has come, or empty |
| suggestions | what nobody logged: [kind, from when, until when or null, kinds as which it may be logged where there
  are two], the latest first |
| events | the log: [uid, kind, when, details] of each event that a person logged |
| alert_number, alert_text, unanswered | of a live cook: goes up with each alert; what the latest is about; the names of
  what nobody has answered |
| curve_span | from when to when the curve runs, Unix seconds |
"""

import math
from collections.abc import Iterable

from dashboard.components.manual_text import alarm_address
from monitor.alarms import UNACKNOWLEDGED
from monitor.detection import Suggestion
from monitor.model import PERSON_EVENTS, STEP_TIMERS, Alarm, Event, Floats, History, event_text
from monitor.session import (
    SETTLING,
    LiveCook,
    Outlook,
    StepState,
    next_step,
    stage_of,
    standing,
    steps_of,
)

# Rounding keeps an estimate that trembles from being sent again and again.
DUE_STEP_S = 60.0
SHARE_STEP = 5
MOST_EVENTS = 60
# A person who logs nothing is not to scroll through questions; the next one comes when one is answered.
MOST_SUGGESTIONS = 2
SHELVED = "shelved"


def cook_state(
    history: History,
    outlook: Outlook,
    suggestions: Iterable[Suggestion] = (),
    rate: float = 1.0,
    batch_now: float | None = None,
) -> dict[str, object]:
    """Everything but the curve and the paste's temperature, ready for JSON.

    suggestions: what seems to have happened and nobody has answered yet. rate: seconds of the cook in one real second.
    batch_now: as ``LiveState`` has it, Unix seconds; the moment of the outlook if None.
    """
    estimate = outlook.estimate
    started = estimate.elapsed_s is not None
    stage = stage_of(history, started)
    finished = history.finished() is not None
    now = estimate.t if batch_now is None else batch_now
    steps = steps_of(history, stage, now, rate)
    coming = next_step(steps)
    latest = [] if finished else sorted(suggestions, key=lambda suggestion: -suggestion.at)[:MOST_SUGGESTIONS]
    logged = [event for event in history.events if event.kind in PERSON_EVENTS][-MOST_EVENTS:]
    details = [event_text(event) for event in logged]
    return {
        "stage": stage,
        "first_buttons": list(first_buttons(stage, coming)),
        "steps": [[one.step.words, one.state, _rounded(one.when), one.step.page] for one in steps],
        "next_step": coming and _next_step(coming),
        "stands": standing(history.events, now),
        "finished": history.finished(),
        "stir_due": None if finished else _rounded_due(outlook.stir_due),
        "check_due": None if finished else _rounded_due(outlook.check_due),
        "give_or_take_min": _give_or_take_min(outlook),
        "stir_reason": outlook.reasons.get("stir", ""),
        "check_reason": outlook.reasons.get("check", ""),
        "done": [_per_thousand(share) for share in estimate.done] if _is_done_told(outlook) else None,
        "converted": [_per_thousand(share) for share in estimate.converted] if started else None,
        "chance_clear": round(estimate.chance_clear * 100) if started else None,
        "alarms": [_alarm(alarm, history) for alarm in outlook.alarms],
        "headline": _headline(outlook.danger),
        "waits": outlook.waits,
        "suggestions": [_suggestion(suggestion) for suggestion in latest],
        "events": [
            [event.uid, event.kind, round(event.measured), text] for event, text in zip(logged, details, strict=True)
        ],
    }


def overview_of(cook: LiveCook) -> dict[str, object]:
    """What a list of cooks says of a running one.

    ``time`` is cook time; ``rate``, ``stage``, ``paste_tenths_c``, ``headline``, ``waits`` as above; ``alarms``:
    [sentence, since when] of those in sight; ``next_due``: what is due first, [kind, Unix seconds] or null;
    ``done``, ``converted``: the 50 % points alone, per thousand, or null as above.
    """
    state = cook.state()
    outlook, history = state.outlook, state.history
    dues = [("stir", outlook.stir_due), ("check", outlook.check_due)]
    first = min(((kind, due) for kind, due in dues if due is not None), key=lambda pair: pair[1], default=None)
    return {
        "time": round(state.now, 1),
        "rate": state.rate,
        "stage": stage_of(history, outlook.elapsed_s is not None),
        "next_due": None if first is None else [first[0], _rounded_due(first[1])],
        "done": _per_thousand(outlook.estimate.done[1]) if _is_done_told(outlook) else None,
        "converted": None if outlook.elapsed_s is None else _per_thousand(outlook.estimate.converted[1]),
        "paste_tenths_c": paste_tenths_c(history.temperature_c("paste")[1]),
        "headline": _headline(outlook.danger),
        "waits": outlook.waits,
        "alarms": [[alarm.words, round(alarm.since)] for alarm in outlook.alarms if alarm.in_sight],
    }


def pressing_of(cook: LiveCook) -> dict[str, object]:
    """What one line says of a running cook wherever its owner looks.

    ``cook`` its name; ``time``, ``rate``, ``headline``, ``next_due`` as in ``overview_of``; ``alarm``: the name of the
    first that nobody has answered, or null.
    """
    look = overview_of(cook)
    alarms = (alarm.name for alarm in cook.state().outlook.alarms if alarm.state == UNACKNOWLEDGED)
    kept = {key: look[key] for key in ("time", "rate", "headline", "next_due")}
    return {"cook": cook.name, **kept, "alarm": next(alarms, None)}


def ringing_of(cook: LiveCook) -> dict[str, object]:
    """The same of a batch whose cook is over: the first of its timers that ring and that nobody has answered."""
    alarms = (alarm.name for alarm in cook.ringing() if alarm.state == UNACKNOWLEDGED)
    look: dict[str, object] = {"cook": cook.name, "time": round(cook.batch_now(), 1), "rate": cook.rate}
    return {**look, "headline": None, "next_due": None, "alarm": next(alarms, None)}


def _is_done_told(outlook: Outlook) -> bool:
    return outlook.elapsed_s is not None and outlook.estimate.done[2] > 0.0


def paste_tenths_c(values_c: Floats) -> int | None:
    """The latest of these temperatures (degC, shape (n,), NaN at a fault) in tenths of a degree; None at a fault."""
    return round(float(values_c[-1]) * 10) if len(values_c) and math.isfinite(values_c[-1]) else None


def _suggestion(suggestion: Suggestion) -> list[object]:
    answers = suggestion.answers
    until = None if suggestion.until is None else round(suggestion.until)
    return [suggestion.kind, round(suggestion.at), until, *(answers if len(answers) > 1 else ())]


def _headline(danger: Alarm | None) -> list[object] | None:
    return None if danger is None else [danger.name[0].upper() + danger.name[1:], round(danger.since)]


def _alarm(alarm: Alarm, history: History) -> list[object]:
    until, uid = alarm.until, None
    if alarm.state == SHELVED:
        own = [event for event in history.events_of("shelved") if event.fields.get("condition") == alarm.name]
        until, uid = max(_shelved_until(event) for event in own)
    ends = None if until is None else round(until)
    return [alarm.words, round(alarm.since), alarm.state, alarm.name, ends, uid, alarm_address(alarm.name)]


def _shelved_until(event: Event) -> tuple[float, str]:
    # A recording made elsewhere may hold anything.
    minutes = event.fields.get("minutes")
    return event.measured + (60.0 * minutes if isinstance(minutes, int | float) else 0.0), event.uid


def first_buttons(stage: str, coming: StepState | None) -> tuple[str, ...]:
    """The kinds of event that a person most likely logs next. coming: the next step."""
    is_tapped = coming is not None and (coming.step.by_tap or not coming.step.page)
    kind = coming.step.kind if coming and is_tapped and coming.step.kind in PERSON_EVENTS else ""
    if stage == "cooking":
        return ("stirred", "checked")
    if stage == "before":
        # The probe ticks itself, and a person who goes without it still has a lid.
        return (kind or "lid on",)
    if coming and coming.step.kind == SETTLING:
        kind = "settled"
    is_open = stage == "clear" and kind != "finished"
    return (*([kind] if kind else []), *(["finished"] if is_open else []))


def _next_step(coming: StepState) -> list[object]:
    step = coming.step
    kind = step.kind if step.kind in PERSON_EVENTS else ""
    timer = "" if coming.is_timed else step.timer
    minutes = STEP_TIMERS[timer].minutes if timer else None
    return [step.headline, step.line, kind, step.page, timer, minutes, _rounded(coming.when)]


def _rounded(moment: float | None) -> int | None:
    return None if moment is None else round(moment)


def _per_thousand(share: float) -> int:
    return round(share * 1000 / SHARE_STEP) * SHARE_STEP


def _rounded_due(moment: float | None) -> float | None:
    return None if moment is None else round(moment / DUE_STEP_S) * DUE_STEP_S


def _give_or_take_min(outlook: Outlook) -> int | None:
    low, _, high = outlook.estimate.clear_at
    return None if low is None or high is None else max(1, round((high - low) / 120))
