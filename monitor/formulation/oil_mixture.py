"""What the oils of a batch are, as facts: their acids by groups, their iodine value, how strong a soap stays fluid.

Facts and no marks: what a soap is worth to a skin or a sink does not follow from its acids alone.
"""

from dataclasses import dataclass

from monitor.chemistry import IodineValue, Portion, group_shares, iodine_value
from monitor.formulation.fluidity import fluid_up_to

GROUPS_SOURCE = "computed from the compositions in the oils table"
IODINE_SOURCE = "g of iodine to 100 g of oil; the ends from the ranges in the table, the middle from its compositions"


@dataclass(frozen=True, slots=True)
class OilFacts:
    """Facts of a mixture of oils.

    groups: mass fractions of the groups of fatty acids, by name, the greatest first; empty where no composition is
    known. iodine: g per 100 g, or None where an oil is not in the table. fluid_up_to: mass fraction of real soap up to
    which the soap usually stays fluid when cold. words: all of it in sentences, each with its source.
    """

    groups: tuple[tuple[str, float], ...]
    iodine: IodineValue | None
    fluid_up_to: float
    words: tuple[str, ...]


def oil_facts(portions: tuple[Portion, ...]) -> OilFacts:
    """The facts of the oils of a batch.

    >>> from monitor.chemistry import portion
    >>> facts = oil_facts((portion("coconut", 200), portion("olive", 800)))
    >>> [(name, round(share, 2)) for name, share in facts.groups[:2]]
    [('oleic, linoleic and linolenic acid', 0.68), ('palmitic, stearic and longer acids', 0.16)]
    >>> round(facts.iodine.low), round(facts.iodine.typical), round(facts.iodine.high), round(facts.fluid_up_to, 2)
    (61, 68, 77, 0.27)
    """
    groups = tuple(sorted(((name, share) for name, share in group_shares(portions).items()), key=lambda each: -each[1]))
    iodine = iodine_value(portions)
    limit, basis = fluid_up_to(portions)
    words = [_groups_words(groups)] if groups else []
    words += [_iodine_words(iodine)] if iodine else []
    words.append(f"Fluid when cold up to about {limit:.0%} of real soap: {basis}.")
    return OilFacts(groups, iodine, limit, tuple(words))


def _groups_words(groups: tuple[tuple[str, float], ...]) -> str:
    held = ", ".join(f"{share:.0%} {name}" for name, share in groups if share >= 0.005)
    return f"Fatty acids: {held} ({GROUPS_SOURCE})."


def _iodine_words(iodine: IodineValue) -> str:
    return f"Iodine value about {iodine.typical:.0f}, from {iodine.low:.0f} to {iodine.high:.0f} ({IODINE_SOURCE})."
