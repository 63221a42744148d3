"""The oils table: saponification and iodine values with their ranges and sources."""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class OilRow:
    """One row of the table. Saponification values in mg KOH per g of oil; iodine values in g iodine per 100 g.

    saponification_typical: what every sum takes for an oil without a certificate; typical_source: where it comes from.
    The range is what a standard allows, and its middle is no guide to what is sold. kind: "triglyceride", "free acid"
    (its value is its acid value) or "wax ester". unsaponifiable: typical mass fraction that takes no alkali, 0 where
    none is given. confidence: how certain the row is; source: where the ranges are published and how they were seen.
    """

    name: str
    saponification_low: float
    saponification_typical: float
    saponification_high: float
    iodine_low: float
    iodine_high: float
    unsaponifiable: float
    typical_source: str
    source: str
    kind: str
    standard: str
    confidence: str


def _folded_name(name: str) -> str:
    return " ".join(name.casefold().replace("-", " ").removesuffix(" oil").split())


@cache
def oils_by_name() -> Mapping[str, OilRow]:
    """Every name of an oil, in lower case, to its row."""
    table: dict[str, OilRow] = {}
    text = files("monitor.chemistry").joinpath("oils.csv").read_text(encoding="utf-8")
    for line in csv.DictReader(text.splitlines()):
        row = OilRow(
            line["oil"],
            float(line["sv_low_mgKOH_per_g"]),
            float(line["sv_typical_mgKOH_per_g"]),
            float(line["sv_high_mgKOH_per_g"]),
            float(line["iodine_low"]),
            float(line["iodine_high"]),
            float(line["unsaponifiable_typical_g_per_kg"] or 0.0) / 1000.0,
            line["typical_source"],
            line["source"],
            line["kind"],
            line["standard"],
            line["confidence"],
        )
        for name in (line["oil"], *line["known_as"].split(";")):
            if name:
                table[_folded_name(name)] = row
    return MappingProxyType(table)


def all_oils() -> tuple[OilRow, ...]:
    """Every row, once, in the order of the table."""
    return tuple(dict.fromkeys(oils_by_name().values()))


def other_names(row: OilRow) -> tuple[str, ...]:
    """The other names of a row's oil.

    >>> other_names(find_oil("rapeseed"))
    ('rapeseed', 'canola', 'rape')
    """
    return tuple(
        name for name, collected in oils_by_name().items() if collected == row and name != _folded_name(row.name)
    )


def find_oil(name: str) -> OilRow:
    """The row of the oil called ``name``. Raises ValueError that offers the nearest names when there is none.

    >>> find_oil("Rapeseed oil").saponification_low, find_oil("almond").saponification_typical
    (182.0, 190.6)
    >>> find_oil("rapseed")
    Traceback (most recent call last):
    ValueError: oil is 'rapseed', which is not in the oils table; nearest: rapeseed, grapeseed, ho rapeseed
    """
    table = oils_by_name()
    row = table.get(_folded_name(name))
    if row is None:
        raise ValueError(f"oil is {name!r}, which is not in the oils table; nearest: {', '.join(_nearest_names(name))}")
    return row


def _nearest_names(name: str) -> list[str]:
    """Up to three names that look like ``name``, each of another row; at least one."""
    table, folded = oils_by_name(), _folded_name(name)
    found = get_close_matches(folded, list(table), 12, 0.6) or get_close_matches(folded, list(table), 1, 0.0)
    of_rows: dict[OilRow, str] = {}
    for each in found:
        of_rows.setdefault(table[each], each)
    return list(of_rows.values())[:3]
