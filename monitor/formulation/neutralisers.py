"""Reagents that neutralise alkali: how much each takes, and how much of it dissolves in water."""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from itertools import pairwise
from types import MappingProxyType

from monitor.chemistry import KOH_G_PER_MOL, check_range
from monitor.formulation.cautions import BORATES, MELTED, STOCK, Caution

DEFAULT = "citric acid anhydrous"


@dataclass(frozen=True, slots=True)
class Neutraliser:
    """One reagent. oh_mol: alkali that a mole takes when it reacts completely, mol. boron_mol: boron in a mole, mol.

    kind: "acid", "fatty acid" or "borate". end_state: the product of complete reaction.
    """

    name: str
    kind: str
    g_per_mol: float
    oh_mol: float
    boron_mol: float
    end_state: str
    source: str

    @property
    def g_per_g_koh(self) -> float:
        """Grams that neutralise a gram of pure KOH when the reagent reacts completely."""
        return self.g_per_mol / (self.oh_mol * KOH_G_PER_MOL)

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """The cautions that belong to its mass."""
        if self.kind == "borate":
            return (Caution("reagent_g", BORATES), Caution("reagent_g", STOCK))
        return (Caution("reagent_g", MELTED if self.kind == "fatty acid" else STOCK),)


@cache
def all_neutralisers() -> Mapping[str, Neutraliser]:
    """Every reagent by each of its names."""
    table: dict[str, Neutraliser] = {}
    for row in csv.DictReader(_lines("neutralisers.csv")):
        reagent = Neutraliser(
            row["reagent"],
            row["kind"],
            float(row["molar_mass"]),
            float(row["mol_OH_taken_per_mol"]),
            float(row["boron_mol_per_mol"]),
            row["end_state"],
            row["source"],
        )
        table[row["reagent"]] = reagent
        if row["known_as"]:
            table[row["known_as"]] = reagent
    return MappingProxyType(table)


def find_neutraliser(name: str) -> Neutraliser:
    """The reagent that goes by ``name``. Raises ValueError that offers the nearest names.

    >>> find_neutraliser("citric acid").name, round(find_neutraliser("citric acid").g_per_g_koh, 3)
    ('citric acid anhydrous', 1.141)
    """
    table = all_neutralisers()
    folded = " ".join(name.casefold().split())
    if folded not in table:
        nearest = get_close_matches(folded, list(table), 3, 0.0)
        raise ValueError(f"reagent is {name!r}, which is not in the table; nearest: {', '.join(nearest)}")
    return table[folded]


def find_allowed_neutraliser(name: str, *, warning_read: bool) -> Neutraliser:
    """The reagent that goes by ``name``, for a dose. warning_read: that a person has read ``cautions.BORATES``.

    Raises ValueError for an unknown reagent, and for a borate whose warning was not read.
    """
    row = find_neutraliser(name)
    if row.kind == "borate" and not warning_read:
        raise ValueError(f"reagent is {row.name!r}, a borate, which is only dosed once its warning has been read")
    return row


@cache
def _solubilities() -> Mapping[str, tuple[tuple[float, float], ...]]:
    collected: dict[str, list[tuple[float, float]]] = {}
    for row in csv.DictReader(_lines("solubility.csv")):
        collected.setdefault(row["reagent"], []).append((float(row["temperature_c"]), float(row["saturated_percent"])))
    return MappingProxyType({name: tuple(sorted(points)) for name, points in collected.items()})


def saturated(reagent: Neutraliser, temperature_c: float) -> float | None:
    """The mass fraction of the reagent in its saturated solution, interpolated linearly in ``solubility.csv``.

    Parameters
    ----------
    temperature_c : 0 to 100 degC, citric acid from 10.

    Returns None where the table has no row: lactic acid is miscible, fatty acids do not dissolve.

    References
    ----------
    .. [1] Each row of ``solubility.csv`` names its source.

    >>> round(saturated(find_neutraliser("borax"), 20), 4)
    0.0471
    """
    points = _solubilities().get(reagent.name)
    if points is None:
        return None
    check_range("temperature_c", temperature_c, points[0][0], points[-1][0], "°C")
    return _between(points, temperature_c) / 100.0


def dissolves_above_c(reagent: Neutraliser, strength: float) -> float | None:
    """The temperature, degC, above which this strength stays dissolved. None if it never does or is unknown.

    Parameters
    ----------
    strength : mass fraction of the reagent, 0 to 1.
    """
    points = _solubilities().get(reagent.name)
    if points is None or strength * 100.0 > points[-1][1]:
        return None
    if strength * 100.0 <= points[0][1]:
        return points[0][0]
    return _between(tuple((percent, at) for at, percent in points), strength * 100.0)


def _between(points: tuple[tuple[float, float], ...], at: float) -> float:
    for (x0, y0), (x1, y1) in pairwise(points):
        if x0 <= at <= x1:
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0)
    raise AssertionError(f"{at} lies outside the table, which its caller excludes")


def _lines(name: str) -> list[str]:
    return files("monitor.formulation").joinpath(name).read_text(encoding="utf-8").splitlines()
