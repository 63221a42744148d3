"""Fatty acids: what an oil is made of, and what follows from it.

Profiles are the ranges of the oils table's standards. Masses of acids from the atomic masses named in the table.
"""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from monitor.formulation.oils import OilRow, all_oils, find_oil, other_names

KOH_G_PER_MOL = 56.1056
NAOH_G_PER_MOL = 39.997
WATER_G_PER_MOL = 18.015
GLYCEROL_G_PER_MOL = 92.094
CARBONATE_G_PER_MOL = 138.205
"""Potassium carbonate, K2CO3."""
# Acid + hydroxide gives salt + water: what a salt weighs more than its acid, per mol.
POTASSIUM_FOR_HYDROGEN_G = KOH_G_PER_MOL - WATER_G_PER_MOL
SODIUM_FOR_HYDROGEN_G = NAOH_G_PER_MOL - WATER_G_PER_MOL
# A triglyceride is three acids and this much more: glycerol less three waters.
GLYCERYL_G_PER_MOL = 38.049


@dataclass(frozen=True, slots=True)
class FattyAcid:
    """One acid. code: carbons and double bonds, as C18:1. apparent_pka: of its soap in water at 25 degC."""

    code: str
    name: str
    acid_g_per_mol: float
    apparent_pka: float
    source: str


@dataclass(frozen=True, slots=True)
class FattyAcidProfile:
    """An oil's acids. shares: mass fractions, the middles of the ranges made to add up to one.

    ranges: code to (low, high) in per cent, as the standard gives them.
    """

    shares: Mapping[str, float]
    ranges: Mapping[str, tuple[float, float]]
    source: str

    @property
    def acid_g_per_mol(self) -> float:
        """The mean molar mass of the acids, by number of molecules."""
        table = all_fatty_acids()
        return 1.0 / sum(share / table[code].acid_g_per_mol for code, share in self.shares.items())


@cache
def all_fatty_acids() -> Mapping[str, FattyAcid]:
    """Every fatty acid of the table by its code."""
    rows = csv.DictReader(_lines("fatty_acids.csv"))
    return MappingProxyType(
        {
            row["fatty_acid"]: FattyAcid(
                row["fatty_acid"],
                row["name"],
                float(row["acid_g_per_mol"]),
                float(row["apparent_pka"]),
                f"{row['source']}; pKa: {row['pka_source']}",
            )
            for row in rows
        }
    )


@cache
def _profiles() -> Mapping[str, FattyAcidProfile]:
    collected: dict[str, dict[str, tuple[float, float]]] = {}
    sources: dict[str, str] = {}
    for row in csv.DictReader(_lines("oils_fatty_acids.csv")):
        collected.setdefault(row["oil"], {})[row["fatty_acid"]] = (
            float(row["low_percent"]),
            float(row["high_percent"]),
        )
        sources[row["oil"]] = row["source"]
    return MappingProxyType({oil: _profile(ranges, sources[oil]) for oil, ranges in collected.items()})


def _profile(ranges: Mapping[str, tuple[float, float]], source: str) -> FattyAcidProfile:
    total = sum(low + high for low, high in ranges.values())
    shares = {code: (low + high) / total for code, (low, high) in ranges.items()}
    return FattyAcidProfile(MappingProxyType(shares), MappingProxyType(dict(ranges)), source)


def fatty_acid_profile(oil: str) -> FattyAcidProfile | None:
    """The acids of an oil of the table, or None where the table has none for it (or the oil is a stranger).

    >>> round(fatty_acid_profile("rapeseed").acid_g_per_mol, 1)
    281.8
    """
    try:
        return _profiles().get(find_oil(oil).name)
    except ValueError:
        return None


def saponification_of_triglyceride(acid_g_per_mol: float) -> float:
    """mg of KOH per g of a triglyceride whose acids weigh ``acid_g_per_mol`` on average.

    Three acids to a triglyceride: 3 KOH / (3 M + 38.049).

    >>> round(saponification_of_triglyceride(282.468), 2), round(saponification_of_triglyceride(200.322), 2)
    (190.09, 263.4)
    """
    return 3000.0 * KOH_G_PER_MOL / (3.0 * acid_g_per_mol + GLYCERYL_G_PER_MOL)


def saponification_of_acid(acid_g_per_mol: float) -> float:
    """mg of KOH per g of a free acid.

    >>> round(saponification_of_acid(282.468), 2)
    198.63
    """
    return 1000.0 * KOH_G_PER_MOL / acid_g_per_mol


@dataclass(frozen=True, slots=True)
class CrossCheck:
    """One row of the oils table held against what its own fatty acids say. Values in mg KOH per g.

    from_acids: None where there is no profile, or the oil is a wax ester, whose alcohols the profile does not tell.
    """

    oil: OilRow
    from_acids: float | None
    inside: bool | None
    words: str


def cross_checks() -> tuple[CrossCheck, ...]:
    """Every row of the oils table checked by the fatty-acid route.

    >>> [check.oil.name for check in cross_checks() if check.inside is False]
    ['babassu']
    """
    return tuple(_cross_check(row) for row in all_oils())


def find_oil_rows(text: str) -> tuple[CrossCheck, ...]:
    """The row of the oil that goes by ``text``, else every row that has all its words somewhere, in any column.

    >>> [check.oil.name for check in find_oil_rows("palm codex")]
    ['palm']
    >>> [check.oil.name for check in find_oil_rows("canola")], find_oil_rows("nothing such")
    (['rapeseed low-erucic (canola)'], ())
    """
    try:
        return (_cross_check(find_oil(text)),)
    except ValueError:
        wanted = text.casefold().split()
    return tuple(check for check in cross_checks() if all(word in row_text(check) for word in wanted))


def row_text(check: CrossCheck) -> str:
    """Everything a row says, in lower case, for a search."""
    row = check.oil
    parts = (row.name, *other_names(row), row.kind, row.standard, row.source, row.confidence)
    return " ".join(parts).casefold()


def _cross_check(row: OilRow) -> CrossCheck:
    profile = _profiles().get(row.name)
    if profile is None or row.kind == "wax ester":
        return CrossCheck(row, None, None, "its fatty acids cannot check it")
    acid = profile.acid_g_per_mol
    value = saponification_of_acid(acid) if row.kind == "free acid" else saponification_of_triglyceride(acid)
    inside = row.saponification_low <= value <= row.saponification_high
    words = f"its fatty acids give {value:.1f}, {'inside' if inside else 'outside'} the range"
    return CrossCheck(row, value, inside, words)


def _lines(name: str) -> list[str]:
    return files("monitor.formulation").joinpath(name).read_text(encoding="utf-8").splitlines()
