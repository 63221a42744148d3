"""Groups of fatty acids by their chemistry, and how much of each a batch's oils hold."""

from dataclasses import dataclass

from monitor.chemistry.oil_amounts import Portion


@dataclass(frozen=True, slots=True)
class FattyAcidGroup:
    """Acids whose soaps behave alike. codes: as in the table of fatty acids."""

    name: str
    codes: frozenset[str]


SHORT_CHAINS = FattyAcidGroup("caprylic to myristic acid", frozenset({"C6:0", "C8:0", "C10:0", "C12:0", "C14:0"}))
HYDROXY = FattyAcidGroup("ricinoleic acid", frozenset({"C18:1-OH"}))
UNSATURATED = FattyAcidGroup(
    "oleic, linoleic and linolenic acid",
    frozenset({"C16:1", "C17:1", "C18:1", "C18:2", "C18:3", "C20:1", "C20:2", "C22:1", "C22:2", "C24:1"}),
)
LONG_SATURATED = FattyAcidGroup(
    "palmitic, stearic and longer acids", frozenset({"C16:0", "C17:0", "C18:0", "C20:0", "C22:0", "C24:0"})
)
FATTY_ACID_GROUPS = (SHORT_CHAINS, HYDROXY, UNSATURATED, LONG_SATURATED)


def group_shares(portions: tuple[Portion, ...]) -> dict[str, float]:
    """Mass fractions of the groups, by name, in the fatty acids of the oils; empty where no oil has a profile.

    An oil without a profile is left out of the sum.

    >>> from monitor.chemistry.oil_amounts import portion
    >>> group_shares((portion("lauric acid", 100), portion("oleic acid", 300)))["ricinoleic acid"]
    0.0
    """
    grams = dict.fromkeys((group.name for group in FATTY_ACID_GROUPS), 0.0)
    for portion in portions:
        profile = portion.profile
        if profile is None:
            continue
        acids_g = portion.acid_mol * portion.acid_g_per_mol
        for group in FATTY_ACID_GROUPS:
            grams[group.name] += acids_g * sum(share for code, share in profile.shares.items() if code in group.codes)
    total = sum(grams.values())
    return {name: each / total for name, each in grams.items()} if total else {}


def short_chain_share(portions: tuple[Portion, ...]) -> float | None:
    """The mass fraction of caproic to myristic acid (C6:0 to C14:0) in the fatty acids of the oils, 0 to 1.

    None where no oil has a profile; an oil without one is left out of the sum.

    >>> from monitor.chemistry.oil_amounts import portion
    >>> round(short_chain_share((portion("coconut", 100),)), 2), short_chain_share((portion("oleic acid", 100),))
    (0.79, 0.0)
    """
    shares = group_shares(portions)
    return shares[SHORT_CHAINS.name] if shares else None
