"""What happened and nobody logged: stirs, open lids and lost heat, found in the temperature history."""

from monitor.detection.cause_text import CAUSE_TEXT
from monitor.detection.cooling import LASTING_C, THIRD_S, Cause, cause_at, falls, least_of_thirds
from monitor.detection.disturbances import GRID_S, Disturbance, DisturbanceReport, find_disturbances, going_on
from monitor.detection.suggestions import Suggestion, dismissal_fields, find_suggestions, suggested_events

__all__ = [
    "CAUSE_TEXT",
    "GRID_S",
    "LASTING_C",
    "THIRD_S",
    "Cause",
    "Disturbance",
    "DisturbanceReport",
    "Suggestion",
    "cause_at",
    "dismissal_fields",
    "falls",
    "find_disturbances",
    "find_suggestions",
    "going_on",
    "least_of_thirds",
    "suggested_events",
]
