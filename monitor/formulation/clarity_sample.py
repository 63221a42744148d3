"""The clarity sample: the boiling water it needs, what its appearance means, and how to log it."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from monitor.chemistry import check_range
from monitor.formulation.cautions import BOILING_WATER, HOT_PASTE, NEVER_TASTE, Caution

WATER_PER_SAMPLE = 2.0


@dataclass(frozen=True, slots=True)
class ClarityLook:
    """One appearance of a sample. result: the word that is logged for it. means, then: what it shows and what to do."""

    seen: str
    result: str
    means: str
    then: str


# Readings of the sample: common practice, no source, but for "clear", which is Simmons & Appleton's Handbook of Soap
# Manufacture (1908) and the pharmacopoeia's test for Green Soap.
CLARITY_LOOKS = (
    ClarityLook(
        "clear",
        "clear",
        "next to nothing of the oil is left",
        "It is done when a second spoon from elsewhere in the pot is clear too. Some oils (shea, rice bran, cocoa "
        "butter) carry matter that never dissolves clear.",
    ),
    ClarityLook(
        "nearly clear",
        "nearly clear",
        "very little of the oil is left; many call it done",
        "Stir and cook on for the last of it, or call it done when a second spoon is no worse.",
    ),
    ClarityLook(
        "hazy", "hazy", "a little oil is left, or too little water or heat was used", "Stir, cook on, and look again."
    ),
    ClarityLook("cloudy", "cloudy", "much oil is left", "Stir well, cook on; there is no hurry to look again."),
    ClarityLook(
        "an oily ring or drops on top",
        "cloudy",
        "oil has parted: it was not blended in, or the alkali is short of what the oils take",
        "Blend again. If it still shows after long cooking, hold the weights against the alkali sum.",
    ),
)


@dataclass(frozen=True, slots=True)
class ClaritySample:
    """A clarity sample: paste and boiling water in g, and what its appearance means.

    event: fields to log beside the result.
    """

    sample_g: float
    water_g: float
    looks: tuple[ClarityLook, ...]
    event: Mapping[str, float]
    cautions: tuple[Caution, ...]


def size_clarity_sample(sample_g: float) -> ClaritySample:
    """The boiling water for a clarity sample: twice its mass (common practice, no source).

    Parameters
    ----------
    sample_g : paste, g, 1 to 200.

    Raises ValueError outside that range.

    >>> size_clarity_sample(12.5).water_g
    25.0
    """
    check_range("sample_g", sample_g, 1.0, 200.0, "g")
    water_g = WATER_PER_SAMPLE * sample_g
    return ClaritySample(
        sample_g,
        water_g,
        CLARITY_LOOKS,
        MappingProxyType({"sample_g": sample_g, "water_g": water_g}),
        (Caution("sample_g", HOT_PASTE), Caution("sample_g", NEVER_TASTE), Caution("water_g", BOILING_WATER)),
    )
