"""The metadata of a cook beside the tables of a data package: ``batch.json``."""

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from monitor.runtime import Anchor

LATEST_S = 1e11


@dataclass(frozen=True, slots=True)
class PackageMetadata:
    """Times in Unix seconds. clocks: how cook time went with the clock at each start of the logger, at least one.

    sheets: when each batch sheet became known, and its text.
    """

    rig: str
    source: str
    started: float
    ended: float | None
    sheets: tuple[tuple[float, str], ...]
    clocks: tuple[Anchor, ...]

    def as_json(self) -> dict[str, object]:
        """The JSON object that ``read_metadata`` reads."""
        return {
            "rig": self.rig,
            "source": self.source,
            "started": self.started,
            "ended": self.ended,
            "sheets": [{"known": known, "text": text} for known, text in self.sheets],
            "clock": asdict(self.clocks[-1]),
            "earlier_clocks": [asdict(clock) for clock in self.clocks[:-1]],
        }


def read_metadata(values: Mapping[str, Any]) -> PackageMetadata:
    """The metadata from a JSON object.

    Raises ValueError, KeyError, TypeError or AttributeError where the object does not fit.
    """
    started = moment(values["started"])
    clocks = [_clock(clock) for clock in (*values.get("earlier_clocks", ()), values["clock"])]
    if clocks[0].cook_time != started:
        # Packages of an earlier version have the latest alone.
        clocks.insert(0, replace(clocks[0], cook_time=started))
    return PackageMetadata(
        text(values["rig"]),
        text(values["source"]),
        started,
        None if values["ended"] is None else moment(values["ended"]),
        tuple((moment(sheet["known"]), text(sheet["text"])) for sheet in values["sheets"]),
        tuple(clocks),
    )


def _clock(values: Mapping[str, Any]) -> Anchor:
    boot_s, rate = (finite(values[name]) for name in ("boot_s", "rate"))
    return Anchor(moment(values["cook_time"]), finite(values["wall"]), text(values["boot_id"]), boot_s, rate)


def moment(value: object) -> float:
    """Unix seconds that a recording may hold. Raises ValueError, TypeError."""
    seconds = finite(value)
    if not 0.0 <= seconds < LATEST_S:
        raise ValueError(f"time is {value!r}; it must be Unix seconds from 0 to 1e11")
    return seconds


def finite(value: object) -> float:
    """A finite number. Raises ValueError, TypeError."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError(f"value is {value!r}; it must be a number")
    number = float(value)
    if not math.isfinite(number):
        raise ValueError(f"value is {value!r}; it must be a number")
    return number


def text(value: object) -> str:
    """A text that UTF-8 can hold. Raises ValueError, TypeError."""
    if not isinstance(value, str):
        raise TypeError(f"value is {value!r}; it must be text")
    value.encode()
    return value


def field_values(values: object) -> dict[str, str | float]:
    """An event's fields from a JSON object of texts and numbers. Raises ValueError, TypeError."""
    if not isinstance(values, dict):
        raise TypeError("fields is not a JSON object")
    return {text(name): text(value) if isinstance(value, str) else finite(value) for name, value in values.items()}


def whole(cell: str) -> int | None:
    """A 64-bit integer in a cell, None for an empty cell. Raises ValueError."""
    if not cell:
        return None
    number = int(cell)
    if not -(2**63) <= number < 2**63:
        raise ValueError(f"count is {cell[:40]!r}; it must be one of 64 bits")
    return number
