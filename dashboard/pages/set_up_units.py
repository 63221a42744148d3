"""The units in which a kitchen reads and types: chosen once, for the pages and the commands."""

from collections.abc import Mapping
from typing import Any

from dashboard.auth.addresses import UNITS_PATH
from dashboard.components import parts
from dashboard.components.sending import sender
from dashboard.components.tags import Component, html
from dashboard.live.app_state import current_state
from monitor.formulation import UNIT_CHOICES
from monitor.session import read_kitchen_units

PATH = UNITS_PATH
TITLE = "Units"
WHY = (
    "For the bench and for the commands of this kitchen, on every phone. Recordings, batch sheets and exports stay in "
    "grams, millilitres and °C, and so do the charts, the probes and the sentences of reasons and alarms."
)
WORDS: Mapping[str, str] = {"mass": "Weights", "volume": "Volumes", "temperature": "Temperatures"}
UNIT_WORDS: Mapping[str, str] = {
    "g": "Grams",
    "oz": "Ounces",
    "mL": "Millilitres",
    "US fl oz": "US fluid ounces",
    "UK fl oz": "UK fluid ounces",
    "degC": "°C",
    "degF": "°F",
}


def layout(**_others: object) -> parts.Page:
    """Each choice with what is chosen. Raises KitchenFileError."""
    chosen = read_kitchen_units(current_state().library.folder)
    groups = [part for what, units in UNIT_CHOICES.items() for part in _group(what, units, getattr(chosen, what))]
    return parts.still(parts.head(TITLE, parts.link("Set-up", "/set-up")), html.P(WHY), *groups, title=TITLE)


def _group(what: str, units: tuple[str, ...], chosen: str) -> list[Component]:
    def button(unit: str) -> Component:
        pressed: dict[str, Any] = {"aria-pressed": str(unit == chosen).lower()}
        return sender(f"unit {unit}", UNIT_WORDS[unit], "/set-up-units", {"what": what, "unit": unit}, **pressed)

    buttons = [button(one) for one in units]
    return [html.H2(WORDS[what]), html.Div(buttons, className="halves")]
