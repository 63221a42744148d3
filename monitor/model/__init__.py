"""The facts of one cook: readings, events, the batch sheet's batch, and the history as known at a moment.

Nothing here is an opinion; what a model makes of the facts is never stored.
"""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.model.alarm import Alarm
    from monitor.model.alarm_names import CHECK, LOUDER, NAMES, QUIET, STIR, is_name
    from monitor.model.alarm_priority import WAKING, Priority, rank
    from monitor.model.channel_check import Arriving, arriving, no_paste_words, unit_troubles, unit_words
    from monitor.model.history import Floats, History, Series, cook_start, cut, history_from_readings, series_from
    from monitor.model.records import (
        ABSOLUTE_ZERO_C,
        ANSWERS,
        LONGEST_GRID_S,
        PASTE_AT_LEAST_C,
        PASTE_AT_MOST_C,
        PERSON_EVENTS,
        Alkali,
        Batch,
        Event,
        FieldValue,
        Number,
        Oil,
        Reading,
        check_uid,
        make_event,
        role,
        storable,
    )
    from monitor.model.text import ahead_words, clock_time, event_text, local, signed_span, span
    from monitor.model.units import (
        Unit,
        allowed,
        announceable,
        is_temperature,
        to_celsius,
        understood,
        unit_as_sent,
        unit_text,
        usable,
    )

__all__ = [
    "ABSOLUTE_ZERO_C",
    "ANSWERS",
    "CHECK",
    "LONGEST_GRID_S",
    "LOUDER",
    "NAMES",
    "PASTE_AT_LEAST_C",
    "PASTE_AT_MOST_C",
    "PERSON_EVENTS",
    "QUIET",
    "STIR",
    "WAKING",
    "Alarm",
    "Alkali",
    "Arriving",
    "Batch",
    "Event",
    "FieldValue",
    "Floats",
    "History",
    "Number",
    "Oil",
    "Priority",
    "Reading",
    "Series",
    "Unit",
    "ahead_words",
    "allowed",
    "announceable",
    "arriving",
    "check_uid",
    "clock_time",
    "cook_start",
    "cut",
    "event_text",
    "history_from_readings",
    "is_name",
    "is_temperature",
    "local",
    "make_event",
    "no_paste_words",
    "rank",
    "role",
    "series_from",
    "signed_span",
    "span",
    "storable",
    "to_celsius",
    "understood",
    "unit_as_sent",
    "unit_text",
    "unit_troubles",
    "unit_words",
    "usable",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "alarm": ("Alarm",),
            "alarm_names": ("CHECK", "LOUDER", "NAMES", "QUIET", "STIR", "is_name"),
            "alarm_priority": ("Priority", "WAKING", "rank"),
            "channel_check": ("Arriving", "arriving", "no_paste_words", "unit_troubles", "unit_words"),
            "history": ("Floats", "History", "Series", "cook_start", "cut", "history_from_readings", "series_from"),
            "records": (
                "ABSOLUTE_ZERO_C",
                "ANSWERS",
                "Alkali",
                "Batch",
                "Event",
                "FieldValue",
                "LONGEST_GRID_S",
                "Number",
                "Oil",
                "PASTE_AT_LEAST_C",
                "PASTE_AT_MOST_C",
                "PERSON_EVENTS",
                "Reading",
                "check_uid",
                "make_event",
                "role",
                "storable",
            ),
            "text": ("ahead_words", "clock_time", "event_text", "local", "signed_span", "span"),
            "units": (
                "Unit",
                "allowed",
                "announceable",
                "is_temperature",
                "to_celsius",
                "understood",
                "unit_as_sent",
                "unit_text",
                "usable",
            ),
        },
    )
