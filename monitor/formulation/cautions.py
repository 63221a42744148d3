"""Safety notes for whoever weighs and pours, each tied to the number that it belongs to."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Caution:
    """One or two sentences to read before weighing.

    beside: the result's field that they belong to, such as ``koh_g``.
    """

    beside: str
    words: str


KOH_BURNS = (
    "Potassium hydroxide burns skin and blinds eyes: goggles, gloves and long sleeves before the bag is opened. On "
    "skin or in an eye: plenty of running water at once and for a long time, then a doctor; never vinegar."
)
KOH_INTO_WATER = "Flakes into water, a little at a time; never water onto flakes. No aluminium."
LYE_SPITS = "The lye grows hot and may spit and fume: stir slowly, at arm's length, with a window open."
NEVER_TASTE = "Never taste soap or paste to test it."
BLENDER = (
    "A stick blender splashes caustic paste: goggles; keep its head below the surface, and switch it off before it "
    "leaves the pot."
)
HOT_PASTE = "The paste is hot and caustic until the cook is done: goggles and gloves."
BOILING_WATER = "Boiling water scalds, and foams up on hot paste: pour small portions, with room above them."
FLAMMABLE = "Scents and alcohol burn: no flame, the cooker off, and the soap cooled below their flash point."
SUPPLIER_LIMIT = (
    "The supplier's limit for this kind of product and local law go before any percentage here; a scent may want its "
    "allergens on the label. What is safe together is for a qualified person's assessment."
)
ACID_AND_ALCOHOL = (
    "Acid and alcohol: goggles. Alcohol burns: no flame or glowing coil near; warm it in hot water, away from the "
    "cooker."
)
PASTE_TITRATION = (
    "Acid and alcohol: goggles and gloves. Alcohol burns: keep it cold, with no flame near, and away from the cooker."
)
MELTED = "Melted fatty acid burns skin: gloves, and into the soap slowly."
STOCK = "The stock stings eyes and sore skin: goggles. Into the soap slowly, never into lye or onto flakes."
BORATES = (
    "Borates (borax, boric acid) are classed in the EU as toxic for reproduction, category 1B (H360FD), and are banned "
    "from or restricted in cosmetic products there and elsewhere: see local law before one is bought, and do not give "
    "or sell such a soap. Keep them from children and from anyone who is or may become pregnant. Citric acid does the "
    "same work without this."
)
"""Class: harmonised classification under Regulation (EC) 1272/2008 as the EU's scientific committee on consumer safety
tells it (SCCS/1523/13, seen); the letters FD are from memory."""
PRESERVATIVE = (
    "Diluted soap is mostly water and can go off. Whether it needs a preservative, which one and how much is for a "
    "qualified person's safety assessment, not for this program."
)
KEEPING = (
    "How long a soap keeps, and whether its preservative does its work, is found by tests and a qualified person's "
    "safety assessment. Write down what theirs says; this program knows no figure of its own."
)
SKIN = (
    "Whether a soap is fit for skin, and may be given away or sold, is decided by a qualified person's safety "
    "assessment under local law, not by a number on this page."
)
