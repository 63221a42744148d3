"""pH buffers and their values by temperature; each row of ``buffers.csv`` names its source."""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

import numpy as np

# Bottles are marked 4.00, 7.01 or 10 where the table has 4.01, 7.00 and 10.01.
SAME_WITHIN_PH = 0.02


@dataclass(frozen=True, slots=True)
class Buffer:
    """One buffer.

    name: its pH at 25 degC as on the bottle. temperatures_c (degC), ph: its table, ascending, equal lengths.
    """

    name: str
    made_of: str
    temperatures_c: tuple[float, ...]
    ph: tuple[float, ...]
    source: str

    def ph_at(self, temperature_c: float) -> float:
        """The buffer's pH at a temperature in degC, interpolated linearly.

        Raises ValueError outside the table.

        >>> find_buffer("10").ph_at(25.0)
        10.012
        """
        low, high = self.temperatures_c[0], self.temperatures_c[-1]
        if not low <= temperature_c <= high:
            raise ValueError(
                f"The {self.name} buffer is known from {low:g} to {high:g} °C, and {temperature_c:g} was given: "
                "measure it near 25 °C, in degrees Celsius."
            )
        return float(np.interp(temperature_c, self.temperatures_c, self.ph))


@cache
def all_buffers() -> Mapping[str, Buffer]:
    """Every buffer by its name, in ascending pH."""
    rows: dict[str, list[dict[str, str]]] = {}
    text = files("monitor.probes").joinpath("buffers.csv").read_text(encoding="utf-8")
    for row in csv.DictReader(text.splitlines()):
        rows.setdefault(row["buffer"], []).append(row)
    return MappingProxyType(
        {
            name: Buffer(
                name,
                own[0]["made_of"],
                tuple(float(row["temperature_c"]) for row in own),
                tuple(float(row["ph"]) for row in own),
                own[0]["source"],
            )
            for name, own in rows.items()
        }
    )


def find_buffer(name: str) -> Buffer:
    """The buffer whose pH is on the bottle, to within 0.02.

    Raises ValueError that lists the known buffers.

    >>> find_buffer("7.01").name, find_buffer("4").name
    ('7.00', '4.01')
    """
    known = all_buffers()
    try:
        nominal = float(name.strip().removeprefix("pH").replace(",", "."))
    except ValueError:
        nominal = float("nan")
    near = min(known.values(), key=lambda buffer: abs(float(buffer.name) - nominal))
    if not abs(float(near.name) - nominal) <= SAME_WITHIN_PH + 1e-9:
        raise ValueError(f"buffer is {name!r}, which is not in the table; known: {', '.join(known)}")
    return near
