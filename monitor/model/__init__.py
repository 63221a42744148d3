"""The facts of one cook: readings, events, the batch sheet's batch, and the history as known at a moment.

Nothing here is an opinion; what a model makes of the facts is never stored.
"""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.model.alarm import Alarm
    from monitor.model.alarm_names import CHECK, LOUDER, NAMES, QUIET, STIR, is_name
    from monitor.model.alarm_priority import WAKING, Priority, rank
    from monitor.model.batch import Alkali, Batch, Oil
    from monitor.model.channel_check import (
        ArrivingChannel,
        arriving_channel,
        missing_paste_text,
        unit_problem_text,
        unit_problem_texts,
    )
    from monitor.model.history import Floats, History, Series, cook_start, cut, history_from_readings, series_from
    from monitor.model.records import (
        ABSOLUTE_ZERO_C,
        ANSWERS,
        LONGEST_GRID_S,
        PASTE_AT_LEAST_C,
        PASTE_AT_MOST_C,
        PERSON_EVENTS,
        Event,
        FieldValue,
        Number,
        Reading,
        check_uid,
        make_event,
        role,
        storable,
    )
    from monitor.model.text import clock_offset_text, clock_time, event_text, local, signed_span, span
    from monitor.model.units import (
        Unit,
        allowed_units,
        is_announceable_unit,
        is_temperature,
        is_usable_unit,
        parse_unit,
        to_celsius,
        unit_as_sent,
        unit_text,
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
    "ArrivingChannel",
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
    "allowed_units",
    "arriving_channel",
    "check_uid",
    "clock_offset_text",
    "clock_time",
    "cook_start",
    "cut",
    "event_text",
    "history_from_readings",
    "is_announceable_unit",
    "is_name",
    "is_temperature",
    "is_usable_unit",
    "local",
    "make_event",
    "missing_paste_text",
    "parse_unit",
    "rank",
    "role",
    "series_from",
    "signed_span",
    "span",
    "storable",
    "to_celsius",
    "unit_as_sent",
    "unit_problem_text",
    "unit_problem_texts",
    "unit_text",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "alarm": ("Alarm",),
            "alarm_names": (
                "CHECK",
                "LOUDER",
                "NAMES",
                "QUIET",
                "STIR",
                "is_name",
            ),
            "alarm_priority": (
                "WAKING",
                "Priority",
                "rank",
            ),
            "batch": (
                "Alkali",
                "Batch",
                "Oil",
            ),
            "channel_check": (
                "ArrivingChannel",
                "arriving_channel",
                "missing_paste_text",
                "unit_problem_text",
                "unit_problem_texts",
            ),
            "history": (
                "Floats",
                "History",
                "Series",
                "cook_start",
                "cut",
                "history_from_readings",
                "series_from",
            ),
            "records": (
                "ABSOLUTE_ZERO_C",
                "ANSWERS",
                "LONGEST_GRID_S",
                "PASTE_AT_LEAST_C",
                "PASTE_AT_MOST_C",
                "PERSON_EVENTS",
                "Event",
                "FieldValue",
                "Number",
                "Reading",
                "check_uid",
                "make_event",
                "role",
                "storable",
            ),
            "text": (
                "clock_offset_text",
                "clock_time",
                "event_text",
                "local",
                "signed_span",
                "span",
            ),
            "units": (
                "Unit",
                "allowed_units",
                "is_announceable_unit",
                "is_temperature",
                "is_usable_unit",
                "parse_unit",
                "to_celsius",
                "unit_as_sent",
                "unit_text",
            ),
        },
    )
