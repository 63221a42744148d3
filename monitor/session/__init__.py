"""One cook and the library of cooks, live and as of any moment; a cook told line by line."""

from monitor.session.cook import Cook
from monitor.session.finished import is_sample
from monitor.session.kitchen_file import KitchenFileError, read_kitchen_costs, set_kitchen_costs
from monitor.session.learning import kitchen_model
from monitor.session.library import CookLibrary
from monitor.session.live_cook import LiveCook, LiveState
from monitor.session.outlook import Outlook
from monitor.session.ph_learning import kitchen_ph_offset
from monitor.session.review import IDEAL, USUAL, cook_time_loss, interval_coverage
from monitor.session.search import matches, summary_line
from monitor.session.stream import LineError, StreamSession

__all__ = [
    "IDEAL",
    "USUAL",
    "Cook",
    "CookLibrary",
    "KitchenFileError",
    "LineError",
    "LiveCook",
    "LiveState",
    "Outlook",
    "StreamSession",
    "cook_time_loss",
    "interval_coverage",
    "is_sample",
    "kitchen_model",
    "kitchen_ph_offset",
    "matches",
    "read_kitchen_costs",
    "set_kitchen_costs",
    "summary_line",
]
