"""What a page says of a cook at one moment, in short keys, rounded to what a person can use.

The keys travel to the phone at every update, so they are two letters long:

| key | what |
| --- | --- |
| ti, rt | the cook's title; seconds of cook time in one real second |
| sg, fb | the stage (``before``, ``cooking``, ``clear``, ``finished``); the buttons to offer first |
| fi | when it was finished, Unix seconds or null |
| st, ck | when to stir and to check, Unix seconds or null |
| gt | the check is due give or take so many minutes, or null |
| ws, wc | the reasons of both |
| cv | converted, per thousand, at the 10, 50 and 90 % points, or null before the start |
| ch | chance that a check now reads clear, per cent, or null before the start |
| te | the paste in tenths of a degree, or null where there is no reading |
| wr | what is wrong: [sentence, since when, state, name, until when, uid] of each; the state is ``n`` not seen by
  anybody yet, ``a`` acknowledged, ``r`` over and never seen, ``s`` put aside, and only a state of ``r`` or ``s`` has an
  until, only ``s`` the uid of the event that put it aside |
| hd | the danger that takes the headline, before all that is due: [its name, since when], or null |
| wa | why neither a stir nor a check is due although its time has come, or empty |
| no | what nobody logged: [kind, from when, until when or null] of each offer, the latest first |
| ev | the log: [uid, kind, when, details] of each event a person logged |
| rn, rw, ra | live alone: goes up with each ring; what the latest is about; the names of what nobody has answered |
| sp | from when to when the curve runs, Unix seconds |
"""

import math
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from monitor.detection import Suggestion
from monitor.model import PERSON_EVENTS, Alarm, Event, History, event_text
from monitor.session import Cook, Outlook

# Rounding keeps an estimate that trembles from being sent again and again.
DUE_STEP_S = 60.0
SHARE_STEP = 5
MOST_EVENTS = 60
# A person who logs nothing is not to scroll through questions; the next one comes when one is answered.
MOST_OFFERS = 2
STATES: Mapping[str, str] = MappingProxyType(
    {"unacknowledged": "n", "acknowledged": "a", "returned unacknowledged": "r", "shelved": "s"}
)


def facts_of(history: History, outlook: Outlook, offered: Iterable[Suggestion] = ()) -> dict[str, object]:
    """Everything but the curve, ready for JSON. offered: what was noticed and nobody has answered yet."""
    stage = stage_of(history)
    started = outlook.elapsed_s is not None
    return {
        "sg": stage,
        "fb": list(first_buttons(history, stage)),
        "fi": history.finished(),
        "st": None if stage == "finished" else _stepped(outlook.stir_due),
        "ck": None if stage == "finished" else _stepped(outlook.check_due),
        "gt": _give_or_take_min(outlook),
        "ws": outlook.reasons.get("stir", ""),
        "wc": outlook.reasons.get("check", ""),
        "cv": [round(share * 1000 / SHARE_STEP) * SHARE_STEP for share in outlook.estimate.converted]
        if started
        else None,
        "ch": round(outlook.estimate.chance_clear * 100) if started else None,
        **readings_facts(history, outlook, offered),
        "ev": [_line(event) for event in history.events if event.kind in PERSON_EVENTS][-MOST_EVENTS:],
    }


def _offer(one: Suggestion) -> list[object]:
    """What is asked, from when, until when; and where it may have been either of two, as which it may be kept."""
    which = one.answers if len(one.answers) > 1 else ()
    return [one.kind, round(one.at), None if one.until is None else round(one.until), *which]


def readings_facts(history: History, outlook: Outlook, offered: Iterable[Suggestion] = ()) -> dict[str, object]:
    """Those of the facts that change with the readings alone."""
    offers = [] if history.finished() is not None else sorted(offered, key=lambda one: -one.at)[:MOST_OFFERS]
    return {
        "te": _paste_now(history),
        "wr": [_wrong(condition, history) for condition in outlook.alarms],
        "hd": _headline(outlook),
        "wa": outlook.waits,
        "no": [_offer(one) for one in offers],
    }


def overview_of(cook: Cook) -> dict[str, object]:
    """What a list of cooks says of a running one.

    ``t``, ``rt``, ``te``, ``hd``, ``wa`` as above; ``wr``: [sentence, since when] of what is wrong and in sight;
    ``du``: what is due first, [kind, Unix seconds] or null; ``cv``: the middle of what is converted, per thousand, or
    null before then.
    """
    outlook, history = cook.outlook(), cook.history()
    dues = [("stir", outlook.stir_due), ("check", outlook.check_due)]
    first = min(((kind, due) for kind, due in dues if due is not None), key=lambda pair: pair[1], default=None)
    return {
        "t": round(cook.now(), 1),
        "rt": cook.rate,
        "sg": stage_of(history),
        "du": None if first is None else [first[0], _stepped(first[1])],
        "cv": None
        if outlook.elapsed_s is None
        else round(outlook.estimate.converted[1] * 1000 / SHARE_STEP) * SHARE_STEP,
        **readings_facts(history, outlook),
        "wr": [[one.words, round(one.since)] for one in outlook.alarms if one.in_sight],
    }


def _headline(outlook: Outlook) -> list[object] | None:
    danger = outlook.danger
    return None if danger is None else [danger.name[0].upper() + danger.name[1:], round(danger.since)]


def _wrong(condition: Alarm, history: History) -> list[object]:
    state = STATES[condition.state]
    until, uid = condition.until, None
    if state == "s":
        own = [event for event in history.events_of("shelved") if event.fields.get("condition") == condition.name]
        until, uid = max(_shelved_to(event) for event in own)
    ends = [None if until is None else round(until), uid]
    return [condition.words, round(condition.since), state, condition.name, *ends]


def _shelved_to(event: Event) -> tuple[float, str]:
    # A recording made elsewhere may hold anything.
    minutes = event.fields.get("minutes")
    return event.measured + (60.0 * minutes if isinstance(minutes, int | float) else 0.0), event.uid


def stage_of(history: History) -> str:
    """Where in its course a cook is, by what was logged."""
    if history.finished() is not None:
        return "finished"
    checks = history.events_of("checked")
    if checks and checks[-1].fields["result"] == "clear":
        return "clear"
    return "cooking" if history.events_of("lid on", "stirred", "checked") else "before"


def first_buttons(history: History, stage: str) -> tuple[str, ...]:
    """The kinds of event that a person most likely logs next."""
    if stage == "finished":
        return ()
    if stage == "clear":
        return ("finished",) if history.events_of("heat off") else ("heat off", "finished")
    if stage == "cooking":
        return ("stirred", "checked")
    order = ("lye in", "thick trace", "lid on")
    reached = max((order.index(event.kind) for event in history.events_of(*order)), default=-1)
    return (*order[reached + 1 :], "stirred")[:2]


def _line(event: Event) -> list[object]:
    return [event.uid, event.kind, round(event.measured), event_text(event)]


def _stepped(moment: float | None) -> float | None:
    return None if moment is None else round(moment / DUE_STEP_S) * DUE_STEP_S


def _give_or_take_min(outlook: Outlook) -> int | None:
    low, _, high = outlook.estimate.clear_at
    return None if low is None or high is None else max(1, round((high - low) / 120))


def _paste_now(history: History) -> int | None:
    _, values_c = history.temperature_c("paste")
    return round(float(values_c[-1]) * 10) if len(values_c) and math.isfinite(values_c[-1]) else None


def changed(before: Mapping[str, object], now: Mapping[str, object]) -> dict[str, object]:
    """The entries of ``now`` that differ from ``before``."""
    return {key: value for key, value in now.items() if key not in before or before[key] != value}
