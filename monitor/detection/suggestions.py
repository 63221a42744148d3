"""What a person seems to have done and not logged, read off the temperature curve.

These are opinions: they are offered, kept apart from what was logged, and count only once a person has kept them.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from monitor.detection.cause_text import WORDS
from monitor.detection.cooling import Cause, Fall, falls
from monitor.detection.grid import grid_step_s, uniform_series
from monitor.detection.stir_dips import StirDip, stir_dips
from monitor.model import LONGEST_GRID_S, FieldValue, History, cook_start

STIRRED = "stirred"
LID_OFF = WORDS[Cause.LID_OPEN].open
# Just after the start the curve bends by itself; the search needs a little of it from before.
BENDS_S = 1200.0
BEFORE_START_S = 600.0
FALLS_FROM_S = 600.0
# A stir that was logged within so long is this one: people log late, and by the clock.
SAME_STIR_S = 480.0
# What else opens the lid, logged so long before or after the lid was on again, explains a dip.
EXPLAINED_BEFORE_S, EXPLAINED_AFTER_S = 180.0, 240.0
OPENS_LID = ("checked", "looked", "lid off", "lid on", "added", "water added", "neutraliser added")
# About a long fall everything bends; it explains dips so long before and after itself.
FALL_BENDS_S, FALL_MENDS_S = 420.0, 900.0
# A person who logged the heat or the lid near a fall has told what it was.
FALL_TOLD_S = 900.0
# A question that was answered with no is not put again for a moment this near.
SAME_QUESTION_S = 600.0
DROPPED = "dropped"


@dataclass(frozen=True, slots=True)
class Suggestion:
    """Something that seems to have happened. kind: stirred, or what a fall's words ask.

    at: Unix seconds; until: when it was over, None for a stir or where it still lasts. certainty: 0 to 1, judged on
    virtual kitchens.
    """

    kind: str
    at: float
    certainty: float
    until: float | None = None

    @property
    def answers(self) -> tuple[str, ...]:
        """The kinds as which it may be kept: more than one where the curve does not tell."""
        either = WORDS[Cause.EITHER]
        if self.kind not in (either.open, either.over):
            return (self.kind,)
        return (LID_OFF, WORDS[Cause.HEAT_LOST].open if self.until is None else WORDS[Cause.HEAT_LOST].over)


@dataclass(frozen=True, slots=True)
class SuggestedEvent:
    """An event to log for something noticed. at: Unix seconds."""

    kind: str
    at: float
    fields: Mapping[str, FieldValue]


def find_suggestions(history: History) -> tuple[Suggestion, ...]:
    """What the curve shows and nobody has logged or answered, in order of time. Never raises for what a history holds.

    A stir shows some eight minutes later, a fall ten; readings two minutes apart or more show neither.
    """
    start = cook_start(history)
    times, temperatures = history.temperature_c("paste")
    step_s = grid_step_s(times)
    if start is None or step_s is None:
        return ()
    end = min(float(times[-1]), history.as_of, history.finished() or math.inf)
    begin = max(start - BEFORE_START_S, float(times[0]), end - LONGEST_GRID_S)
    paste = uniform_series(times, temperatures, begin, end, step_s)
    if paste is None:
        return ()
    wall = uniform_series(*history.temperature_c("wall"), begin, end, step_s)
    if wall is not None and wall.seen.mean() < 0.9:
        wall = None
    long = [one for one in falls(history) if one.lasting_from is not None and one.lasting_from >= start + FALLS_FROM_S]
    short = stir_dips(paste, wall, start + BENDS_S)
    found = [
        *(_stir(one) for one in short if not _told_short(history, one, long)),
        *(_fallen(one) for one in long if not _told_long(history, one)),
    ]
    refused = [float(event.fields.get("at", -math.inf)) for event in history.events_of(DROPPED)]
    asked = [one for one in found if all(abs(one.at - moment) > SAME_QUESTION_S for moment in refused)]
    return tuple(sorted(asked, key=lambda one: one.at))


def suggested_events(one: Suggestion, kind: str = "") -> tuple[SuggestedEvent, ...]:
    """The events that keeping it logs; as this kind, one of its answers, where there are several."""
    kind = kind if kind in one.answers else one.answers[0]
    nothing: Mapping[str, FieldValue] = MappingProxyType({})
    if kind == STIRRED:
        return (SuggestedEvent(STIRRED, one.at, nothing),)
    if kind == LID_OFF:
        back = () if one.until is None else (SuggestedEvent("lid on", one.until, nothing),)
        return (SuggestedEvent(LID_OFF, one.at, nothing), *back)
    on_again: Mapping[str, FieldValue] = MappingProxyType({"setting": "on again"})
    back = () if one.until is None else (SuggestedEvent("heat", one.until, on_again),)
    return (SuggestedEvent("heat off", one.at, nothing), *back)


def dismissal_fields(one: Suggestion) -> Mapping[str, FieldValue]:
    """The fields of the event by which it is remembered that this did not happen."""
    return MappingProxyType({"noticed": one.kind, "at": one.at})


def _stir(opening: StirDip) -> Suggestion:
    # In virtual kitchens the weakest offers are right three times in ten, those of twice the strength nearly always.
    return Suggestion(STIRRED, opening.closed, 1.0 - 0.7 * math.exp(-4.0 * (opening.strength - 1.0)))


def _fallen(fall: Fall) -> Suggestion:
    words = WORDS[fall.cause]
    return Suggestion(words.open if fall.turned is None else words.over, fall.begins, fall.certainty, fall.turned)


def _told_short(history: History, opening: StirDip, long: list[Fall]) -> bool:
    for event in history.events:
        after_s = event.measured - opening.closed
        if event.kind == STIRRED and abs(after_s) <= SAME_STIR_S:
            return True
        if event.kind in OPENS_LID and -EXPLAINED_BEFORE_S <= after_s <= EXPLAINED_AFTER_S:
            return True
    return any(
        fall.begins - FALL_BENDS_S <= opening.closed <= (fall.turned or math.inf) + FALL_MENDS_S for fall in long
    ) or _told_of_heat(history, opening.closed)


def _told_of_heat(history: History, moment: float) -> bool:
    return any(abs(event.measured - moment) <= FALL_BENDS_S for event in history.events_of("heat", "heat off"))


def _told_long(history: History, fall: Fall) -> bool:
    wanted = ("heat", "heat off", "lid off")
    return any(abs(event.measured - fall.begins) <= FALL_TOLD_S for event in history.events_of(*wanted))
