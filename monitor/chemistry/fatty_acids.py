"""Fatty acids: the composition of the oils and the saponification values that follow from it.

Profiles are the ranges of the standards named in ``oils_fatty_acids.csv``; the molar masses of the acids follow from
the atomic masses named in ``fatty_acids.csv``.

=========================  ===================================  =======  ============================================
constant                   quantity                             unit     source
=========================  ===================================  =======  ============================================
KOH_G_PER_MOL              M(KOH)                               g/mol    IUPAC standard atomic weights
NAOH_G_PER_MOL             M(NaOH)                              g/mol    the same
WATER_G_PER_MOL            M(H2O)                               g/mol    the same
GLYCEROL_G_PER_MOL         M(C3H8O3)                            g/mol    the same
CARBONATE_G_PER_MOL        M(K2CO3)                             g/mol    the same
POTASSIUM_FOR_HYDROGEN_G   M(salt) - M(acid), potassium         g/mol    M(KOH) - M(H2O)
SODIUM_FOR_HYDROGEN_G      M(salt) - M(acid), sodium            g/mol    M(NaOH) - M(H2O)
GLYCERYL_G_PER_MOL         M(triglyceride) - 3 M(acid)          g/mol    M(C3H8O3) - 3 M(H2O)
=========================  ===================================  =======  ============================================
"""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from monitor.chemistry.oils import OilRow, all_oils, find_oil, other_names

KOH_G_PER_MOL = 56.1056
NAOH_G_PER_MOL = 39.997
WATER_G_PER_MOL = 18.015
GLYCEROL_G_PER_MOL = 92.094
CARBONATE_G_PER_MOL = 138.205
"""Potassium carbonate, K2CO3."""
# Acid + hydroxide = salt + water: the difference in molar mass between salt and acid.
POTASSIUM_FOR_HYDROGEN_G = KOH_G_PER_MOL - WATER_G_PER_MOL
SODIUM_FOR_HYDROGEN_G = NAOH_G_PER_MOL - WATER_G_PER_MOL
# A triglyceride weighs this much more than its three acids: glycerol minus three waters.
GLYCERYL_G_PER_MOL = 38.049


@dataclass(frozen=True, slots=True)
class FattyAcid:
    """One fatty acid. code: carbons and double bonds, such as C18:1."""

    code: str
    name: str
    acid_g_per_mol: float
    source: str


@dataclass(frozen=True, slots=True)
class FattyAcidProfile:
    """The composition of an oil. shares: mass fractions, the midpoints of the ranges scaled to a sum of 1.

    ranges: code to (low, high), per cent by mass, as the standard gives them.
    """

    shares: Mapping[str, float]
    ranges: Mapping[str, tuple[float, float]]
    source: str

    @property
    def acid_g_per_mol(self) -> float:
        """The number-average molar mass of the acids, g/mol: 1 / sum(w_i / M_i)."""
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
                row["source"],
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
    """The composition of an oil, or None where the table has no profile or does not know the oil.

    >>> round(fatty_acid_profile("rapeseed").acid_g_per_mol, 1)
    281.8
    """
    try:
        return _profiles().get(find_oil(oil).name)
    except ValueError:
        return None


def saponification_of_triglyceride(acid_g_per_mol: float) -> float:
    """The saponification value of a triglyceride, mg KOH per g: 3000 M(KOH) / (3 M + 38.049).

    Parameters
    ----------
    acid_g_per_mol : M, number-average molar mass of its acids, g/mol.

    References
    ----------
    .. [1] ISO 3657, definition; stoichiometry of three acids per triglyceride.

    >>> round(saponification_of_triglyceride(282.468), 2), round(saponification_of_triglyceride(200.322), 2)
    (190.09, 263.4)
    """
    return 3000.0 * KOH_G_PER_MOL / (3.0 * acid_g_per_mol + GLYCERYL_G_PER_MOL)


def saponification_of_acid(acid_g_per_mol: float) -> float:
    """The acid value of a free fatty acid, mg KOH per g: 1000 M(KOH) / M, with M its molar mass in g/mol.

    >>> round(saponification_of_acid(282.468), 2)
    198.63
    """
    return 1000.0 * KOH_G_PER_MOL / acid_g_per_mol


@dataclass(frozen=True, slots=True)
class CrossCheck:
    """One row of the oils table compared with its own fatty acids. Values in mg KOH per g.

    from_acids: None where there is no profile, or where the oil is a wax ester, whose alcohols the profile does not
    hold.
    """

    oil: OilRow
    from_acids: float | None
    inside: bool | None
    words: str


def cross_checks() -> tuple[CrossCheck, ...]:
    """Every row of the oils table compared with the value that its fatty acids give.

    >>> [check.oil.name for check in cross_checks() if check.inside is False]
    ['babassu']
    """
    return tuple(_cross_check(row) for row in all_oils())


def find_oil_rows(text: str) -> tuple[CrossCheck, ...]:
    """The row of the oil named ``text``, else every row that contains all of its words in any column.

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
    """The whole text of a row in lower case, for a search."""
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
    return files("monitor.chemistry").joinpath(name).read_text(encoding="utf-8").splitlines()
