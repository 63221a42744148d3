"""The oils table as a page: what each row says, where it was seen, and how it stands against its own fatty acids."""

from dataclasses import dataclass

from monitor.chemistry import (
    CrossCheck,
    FattyAcidProfile,
    all_fatty_acids,
    cross_checks,
    fatty_acid_profile,
    find_oil_rows,
    other_names,
    portion,
    row_text,
)
from monitor.formulation import oil_facts


@dataclass(frozen=True, slots=True)
class OilLine:
    """A row of the page, in words. acids: its fatty acids with their ranges, per cent of all, the greatest first.

    facts: groups of acids, iodine value and fluid strength in sentences. text: all of it in lower case, for the search
    as it is typed.
    """

    name: str
    also: str
    kind: str
    low: str
    taken: str
    high: str
    source: str
    typical_source: str
    surety: str
    check: str
    outside: bool
    acids: tuple[tuple[str, str], ...]
    facts: tuple[str, ...]
    text: str


def oil_lines(asked: str = "") -> tuple[OilLine, ...]:
    """The rows that have what was asked for, all of them where nothing was."""
    return tuple(_line(check) for check in (find_oil_rows(asked) if asked else cross_checks()))


def _line(check: CrossCheck) -> OilLine:
    row = check.oil
    profile = fatty_acid_profile(row.name)
    return OilLine(
        row.name,
        ", ".join(other_names(row)),
        row.kind,
        f"{row.saponification_low:g}",
        f"{row.saponification_typical:g}",
        f"{row.saponification_high:g}",
        f"{row.standard}; {row.source}",
        row.typical_source,
        row.confidence,
        check.words,
        check.inside is False,
        _acids(profile),
        oil_facts((portion(row.name, 100.0),)).words,
        row_text(check),
    )


def _acids(profile: FattyAcidProfile | None) -> tuple[tuple[str, str], ...]:
    if profile is None:
        return ()
    table = all_fatty_acids()
    greatest_first = sorted(profile.ranges.items(), key=lambda each: -sum(each[1]))
    return tuple((f"{table[code].name}, {code}", f"{low:g} to {high:g} %") for code, (low, high) in greatest_first)
