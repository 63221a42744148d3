"""The file ``kitchen.toml`` of a recordings folder: what a kitchen has set once for all its cooks.

    [costs]
    check_min = 15           # minutes of work that a clarity check costs
    overcook_per_min = 0.25  # minutes of work that a minute cooked past clear counts as
    stir_every_min = 35      # from one stir to the next

    [units]
    mass = "g"               # or "oz"
    volume = "mL"            # or "US fl oz", "UK fl oz"
    temperature = "degC"     # or "degF"

Every key may be left out. A file that cannot be used never stops a cook: what is usual then counts, and it is said.
"""

import tomllib
from collections.abc import Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.formulation import METRIC, UNIT_CHOICES, UnitChoice
from monitor.model import PERSON_EVENTS, Number
from monitor.runtime import MonitorError, read_bounded, write_atomically

if TYPE_CHECKING:
    from monitor.estimation import Costs

PLACE = "kitchen.toml"
MOST_BYTES = 16_384
TABLES = ("costs", "units")
# The same amounts, within the same bounds, as a cook may have of its own.
RULES: Mapping[str, Number] = {
    name: rule for name, rule in PERSON_EVENTS["costs set"][1].items() if isinstance(rule, Number)
}


class KitchenFileError(MonitorError):
    """The kitchen's file, or an amount for it, cannot be used. where: the key or place; why: one clause."""

    exit_status = 2

    def __init__(self, where: str, why: str) -> None:
        self.where = where
        self.why = why
        super().__init__(f"{PLACE}, {where}: {why}.")


def read_kitchen_costs(folder: Path) -> "Costs":
    """The costs of the kitchen whose recordings are in this folder; the usual ones where nothing was set.

    Raises KitchenFileError.
    """
    return _costs(_read(folder)[0])


def believed_kitchen_costs(folder: Path) -> "tuple[Costs, tuple[str, ...]]":
    """The costs of a kitchen, and a sentence where its file cannot be used and the usual ones count instead."""
    try:
        return read_kitchen_costs(folder), ()
    except KitchenFileError as error:
        return _costs({}), (f"{error} The usual costs count instead.",)


def set_kitchen_costs(folder: Path, amounts: Mapping[str, float]) -> "Costs":
    """Sets these amounts, by their names in the file, leaves the others, and returns what counts now.

    Raises KitchenFileError for a name or an amount that is not allowed, for a file that cannot be used, which it leaves
    alone, and for one that cannot be written.
    """
    costs, units = _read(folder)
    kept = {**costs, **_checked(amounts)}
    _write(folder, kept, units)
    return _costs(kept)


def read_kitchen_units(folder: Path) -> UnitChoice:
    """The units of the kitchen whose recordings are in this folder; metric ones where nothing was chosen.

    Raises KitchenFileError.
    """
    return UnitChoice(**_read(folder)[1])


def believed_kitchen_units(folder: Path) -> UnitChoice:
    """The units of a kitchen, metric ones where its file cannot be used, which ``believed_kitchen_costs`` says."""
    try:
        return read_kitchen_units(folder)
    except KitchenFileError:
        return METRIC


def set_kitchen_units(folder: Path, units: Mapping[str, str]) -> UnitChoice:
    """Chooses these units, by their names in the file, leaves all else, and returns what counts now.

    Raises KitchenFileError as ``set_kitchen_costs`` does.
    """
    costs, before = _read(folder)
    kept = {**before, **_checked_units(units)}
    _write(folder, costs, kept)
    return UnitChoice(**kept)


def _write(folder: Path, costs: Mapping[str, float], units: Mapping[str, str]) -> None:
    lines = ["# Written by kettleside; see the manual's page on commands."]
    lines += ["[costs]", *(f"{name} = {costs[name]:g}" for name in RULES if name in costs)] if costs else []
    lines += ["[units]", *(f'{name} = "{units[name]}"' for name in UNIT_CHOICES if name in units)] if units else []
    try:
        write_atomically(folder / PLACE, "\n".join([*lines, ""]).encode(), 0o644)
    except OSError as error:
        raise KitchenFileError("its place", f"it cannot be written ({_reason(error)})") from None


def _costs(amounts: Mapping[str, float]) -> "Costs":
    # Loaded only here, because whoever asks for the units alone does without the estimator.
    from monitor.estimation import Costs

    usual = Costs()
    return Costs(
        amounts.get("check_min", usual.check_min),
        amounts.get("overcook_per_min", usual.overcook_per_min),
        60.0 * amounts.get("stir_every_min", usual.stir_every_s / 60.0),
    )


def _read(folder: Path) -> tuple[dict[str, float], dict[str, str]]:
    """The amounts that the file sets, and the units that it chooses. Raises KitchenFileError."""
    try:
        tables = tomllib.loads(read_bounded(folder / PLACE, MOST_BYTES).decode())
    except FileNotFoundError:
        return {}, {}
    except OSError as error:
        raise KitchenFileError("its place", f"it cannot be read ({_reason(error)})") from None
    except UnicodeDecodeError:
        raise KitchenFileError("its text", "it is not UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        raise KitchenFileError("its TOML", str(error)) from None
    except (RecursionError, ValueError):
        raise KitchenFileError("its TOML", "it cannot be understood") from None
    for name in tables:
        if name not in TABLES:
            near = get_close_matches(name, TABLES, 1, 0.0)[0]
            raise KitchenFileError(repr(name), f"there is no such key; the nearest is {near!r}")
    found = []
    for name in TABLES:
        table = tables.get(name, {})
        if not isinstance(table, dict):
            raise KitchenFileError(f"'{name}'", f"it must be a table headed [{name}]")
        found.append(table)
    costs, units = found
    return _checked(costs), _checked_units(units)


def _checked_units(units: Mapping[str, object]) -> dict[str, str]:
    """The units, each one that may be chosen. Raises KitchenFileError."""
    checked = {}
    for name, value in units.items():
        if name not in UNIT_CHOICES:
            near = get_close_matches(name, UNIT_CHOICES, 1, 0.0)[0]
            raise KitchenFileError(repr(f"units.{name}"), f"there is no such key; the nearest is {near!r}")
        if value not in UNIT_CHOICES[name]:
            allowed = " or ".join(UNIT_CHOICES[name])
            raise KitchenFileError(repr(f"units.{name}"), f"it is {value!r}; it must be {allowed}")
        checked[name] = str(value)
    return checked


def _checked(amounts: Mapping[str, object]) -> dict[str, float]:
    """The amounts as numbers within their bounds. Raises KitchenFileError."""
    checked = {}
    for name, value in amounts.items():
        rule = RULES.get(name)
        if rule is None:
            near = get_close_matches(name, RULES, 1, 0.0)[0]
            raise KitchenFileError(repr(f"costs.{name}"), f"there is no such key; the nearest is {near!r}")
        if isinstance(value, bool) or not isinstance(value, int | float) or not rule.low <= value <= rule.high:
            raise KitchenFileError(
                repr(f"costs.{name}"), f"it is {value!r}; it must be a number from {rule.low:g} to {rule.high:g}"
            )
        checked[name] = float(value)
    return checked


def _reason(error: OSError) -> str:
    return (error.strerror or str(error)).lower()
