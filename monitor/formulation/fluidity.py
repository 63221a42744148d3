"""The strength up to which a soap stays fluid when cold.

All of it is common practice without a source: potassium soaps of short acids stay thin at strengths at which those of
oleic acid set to a jelly, and those of palmitic and stearic acid turn opaque and stiff sooner still.
"""

from dataclasses import dataclass

from monitor.chemistry import Portion, group_shares

SOURCE = "common practice, no source; within about five in a hundred either way"


@dataclass(frozen=True, slots=True)
class FluidLimit:
    """up_to: greatest strength, as mass fraction of real soap, at which the soaps of one group of acids stay fluid."""

    up_to: float
    words: str


LIMITS = {
    "caprylic to myristic acid": FluidLimit(
        0.45, "coconut, babassu and palm kernel stay thin where other soaps have long set"
    ),
    "ricinoleic acid": FluidLimit(0.40, "castor keeps a mixture thin and clear"),
    "oleic, linoleic and linolenic acid": FluidLimit(
        0.28, "olive, rapeseed, sunflower and their like run like honey at first and set to a jelly when stronger"
    ),
    "palmitic, stearic and longer acids": FluidLimit(
        0.18, "palm, tallow, shea and cocoa butter turn cloudy and stiff soonest"
    ),
}


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
    limit = 1.0 / sum(share / LIMITS[name].up_to for name, share in shares.items())
    most = max(shares, key=lambda name: shares[name])
    return limit, f"chiefly {most}: {LIMITS[most].words} ({SOURCE})"
