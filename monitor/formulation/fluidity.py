"""The strength up to which a soap stays fluid when cold.

All of it is common practice without a source: potassium soaps of short acids stay thin at strengths at which those of
oleic acid set to a jelly, and those of palmitic and stearic acid turn opaque and stiff sooner still.
"""

from dataclasses import dataclass

from monitor.chemistry import Portion

SOURCE = "common practice, no source; within about five in a hundred either way"


@dataclass(frozen=True, slots=True)
class FluidGroup:
    """Acids whose soaps behave alike.

    up_to: greatest strength, as mass fraction of real soap, at which they stay fluid.
    """

    name: str
    codes: frozenset[str]
    up_to: float
    words: str


GROUPS = (
    FluidGroup(
        "caprylic to myristic acid",
        frozenset({"C6:0", "C8:0", "C10:0", "C12:0", "C14:0"}),
        0.45,
        "coconut, babassu and palm kernel stay thin where other soaps have long set",
    ),
    FluidGroup(
        "ricinoleic acid",
        frozenset({"C18:1-OH"}),
        0.40,
        "castor keeps a mixture thin and clear",
    ),
    FluidGroup(
        "oleic, linoleic and linolenic acid",
        frozenset({"C16:1", "C17:1", "C18:1", "C18:2", "C18:3", "C20:1", "C20:2", "C22:1", "C22:2", "C24:1"}),
        0.28,
        "olive, rapeseed, sunflower and their like run like honey at first and set to a jelly when stronger",
    ),
    FluidGroup(
        "palmitic, stearic and longer acids",
        frozenset({"C16:0", "C17:0", "C18:0", "C20:0", "C22:0", "C24:0"}),
        0.18,
        "palm, tallow, shea and cocoa butter turn cloudy and stiff soonest",
    ),
)


def group_shares(portions: tuple[Portion, ...]) -> dict[str, float]:
    """Mass fractions of the groups in the fatty acids of the oils; empty where no oil has a profile."""
    grams = dict.fromkeys((group.name for group in GROUPS), 0.0)
    for portion in portions:
        profile = portion.profile
        if profile is None:
            continue
        acids_g = portion.acid_mol * portion.acid_g_per_mol
        for group in GROUPS:
            grams[group.name] += acids_g * sum(share for code, share in profile.shares.items() if code in group.codes)
    total = sum(grams.values())
    return {name: each / total for name, each in grams.items()} if total else {}


def fluid_up_to(portions: tuple[Portion, ...]) -> tuple[float, str]:
    """The strength up to which a soap of these oils usually stays fluid, and the basis in words.

        1 / w_max = sum(x_i / w_i)

    with x_i the share of a group in the acids and w_i its own limit: a harmonic mean, because the stiff part dominates
    (judgement).

    Parameters
    ----------
    portions : the oils.

    Returns the mass fraction of real soap, 0.25 where no composition is known, and one clause. Limits: about 0.05
    either way; common practice, no source.

    >>> from monitor.chemistry.oil_amounts import portion
    >>> round(fluid_up_to((portion("coconut", 100),))[0], 2), round(fluid_up_to((portion("rapeseed", 100),))[0], 2)
    (0.37, 0.27)
    """
    shares = group_shares(portions)
    if not shares:
        return 0.25, f"its fatty acids are not known, so 25 % is taken; {SOURCE}"
    limit = 1.0 / sum(shares[group.name] / group.up_to for group in GROUPS)
    most = max(GROUPS, key=lambda group: shares[group.name])
    return limit, f"chiefly {most.name}: {most.words} ({SOURCE})"
