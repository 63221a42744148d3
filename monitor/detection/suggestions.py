"""Suggestions: what a person seems to have done and not logged, by the temperature curve.

These are opinions: they are kept apart from the log, and count only once a person has accepted them.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from monitor.detection.cause_text import CAUSE_TEXT
from monitor.detection.cooling import Cause, Fall, falls
from monitor.detection.grid import searched_curves
from monitor.detection.stir_dips import StirDip, stir_dips
from monitor.model import Event, FieldValue, History

STIRRED = "stirred"
LID_OFF = CAUSE_TEXT[Cause.LID_OPEN].ongoing
# Just after the start the curve bends by itself.
BENDS_S = 1200.0
FALLS_FROM_S = 600.0
# A stir that was logged within this time of a dip is that dip: people log late, and by the clock.
SAME_STIR_S = 480.0
# Whatever else opens the lid explains a dip when it was logged this long before or after the lid was on again.
EXPLAINED_BEFORE_S, EXPLAINED_AFTER_S = 180.0, 240.0
OPENS_LID = ("checked", "looked", "lid off", "lid on", "added", "water added", "neutraliser added")
# The curve bends around a long fall, which explains dips this long before it and after it.
FALL_BENDS_S, FALL_MENDS_S = 420.0, 900.0
# A person who logged the heat or the lid this near a fall has told its cause.
FALL_LOGGED_S = 900.0
FALL_TOLD = ("heat", "heat off", "lid off")
# A dismissed suggestion is not made again for a moment this near.
SAME_SUGGESTION_S = 600.0
DISMISSED = "dropped"


@dataclass(frozen=True, slots=True)
class Suggestion:
    """Something that seems to have happened.

    kind: "stirred", or the kind of a fall in CAUSE_TEXT. at: Unix seconds. certainty: 0 to 1, judged on virtual
    kitchens. until: when it was over, Unix seconds; None for a stir, or where it still lasts.
    """

    kind: str
    at: float
    certainty: float
    until: float | None = None

    @property
    def answers(self) -> tuple[str, ...]:
        """The kinds as which it may be accepted: more than one where the curve leaves the cause open."""
        either = CAUSE_TEXT[Cause.EITHER]
        if self.kind not in (either.ongoing, either.past):
            return (self.kind,)
        return (
            LID_OFF,
            CAUSE_TEXT[Cause.HEAT_LOST].ongoing if self.until is None else CAUSE_TEXT[Cause.HEAT_LOST].past,
        )


@dataclass(frozen=True, slots=True)
class SuggestedEvent:
    """An event that accepting a suggestion logs. at: Unix seconds."""

    kind: str
    at: float
    fields: Mapping[str, FieldValue]


def find_suggestions(history: History) -> tuple[Suggestion, ...]:
    """What the curve shows and nobody has logged or answered, in order of time.

    A stir shows some eight minutes later, a fall ten; readings two minutes apart or more show neither. Never raises for
    what a history holds.
    """
    curves = searched_curves(history)
    if curves is None:
        return ()
    start, paste, wall = curves.start, curves.paste, curves.wall
    if wall is not None and wall.seen.mean() < 0.9:
        wall = None
    lasting = [
        fall for fall in falls(history) if fall.lasting_from is not None and fall.lasting_from >= start + FALLS_FROM_S
    ]
    dips, events = stir_dips(paste, wall, start + BENDS_S), history.events
    suggestions = [
        *(_suggested_stir(dip) for dip in dips if not _dip_explained(events, dip, lasting)),
        *(_suggested_fall(fall) for fall in lasting if not _logged_near(events, FALL_TOLD, fall.begins, FALL_LOGGED_S)),
    ]
    dismissed = [float(event.fields.get("at", -math.inf)) for event in events if event.kind == DISMISSED]
    left = [one for one in suggestions if all(abs(one.at - moment) > SAME_SUGGESTION_S for moment in dismissed)]
    return tuple(sorted(left, key=lambda suggestion: suggestion.at))


def suggested_events(suggestion: Suggestion, kind: str = "") -> tuple[SuggestedEvent, ...]:
    """The events that accepting a suggestion logs. kind: one of its answers, else the first is meant."""
    at, until = suggestion.at, suggestion.until
    kind = kind if kind in suggestion.answers else suggestion.answers[0]
    nothing: Mapping[str, FieldValue] = MappingProxyType({})
    if kind == STIRRED:
        return (SuggestedEvent(STIRRED, at, nothing),)
    if kind == LID_OFF:
        back = () if until is None else (SuggestedEvent("lid on", until, nothing),)
        return (SuggestedEvent(LID_OFF, at, nothing), *back)
    on_again: Mapping[str, FieldValue] = MappingProxyType({"setting": "on again"})
    back = () if until is None else (SuggestedEvent("heat", until, on_again),)
    return (SuggestedEvent("heat off", at, nothing), *back)


def dismissal_fields(suggestion: Suggestion) -> Mapping[str, FieldValue]:
    """The fields of the event that records that this did not happen."""
    return MappingProxyType({"noticed": suggestion.kind, "at": suggestion.at})


def _suggested_stir(dip: StirDip) -> Suggestion:
    # In virtual kitchens the weakest are right three times in ten, those of twice the strength nearly always.
    return Suggestion(STIRRED, dip.closed, 1.0 - 0.7 * math.exp(-4.0 * (dip.strength - 1.0)))


def _suggested_fall(fall: Fall) -> Suggestion:
    text = CAUSE_TEXT[fall.cause]
    return Suggestion(text.ongoing if fall.turned is None else text.past, fall.begins, fall.certainty, fall.turned)


def _dip_explained(events: Sequence[Event], dip: StirDip, lasting: list[Fall]) -> bool:
    """Whether a logged event or a lasting fall explains a dip."""
    for event in events:
        after_s = event.measured - dip.closed
        if event.kind == STIRRED and abs(after_s) <= SAME_STIR_S:
            return True
        if event.kind in OPENS_LID and -EXPLAINED_BEFORE_S <= after_s <= EXPLAINED_AFTER_S:
            return True
    return any(
        fall.begins - FALL_BENDS_S <= dip.closed <= (fall.turned or math.inf) + FALL_MENDS_S for fall in lasting
    ) or _logged_near(events, ("heat", "heat off"), dip.closed, FALL_BENDS_S)


def _logged_near(events: Sequence[Event], kinds: Sequence[str], moment: float, within_s: float) -> bool:
    """Whether an event of these kinds was logged for about this moment, Unix seconds."""
    return any(event.kind in kinds and abs(event.measured - moment) <= within_s for event in events)
