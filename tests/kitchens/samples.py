"""What a maker sees and measures of the paste: the word of a check, its stage, a titrated sample.

The truth comes from the plant; the errors are the maker's. None of it is shared with ``monitor.estimation``.
"""

import math

import numpy as np

from monitor.model import Batch
from tests.kitchens.kitchen import Person

KOH_G_MOL = 56.1056
# The paste turns from thin to stiff, from stiff to patchy and from patchy to translucent at these residuals (judgement).
STAGE_RESIDUALS = (("thin", 0.5), ("stiff", 0.22), ("patchy", 0.07), ("translucent", 0.0))
# In ln of the residual: how far a maker's idea of the stages is off, and one look beside it.
STAGE_MAKER_SD, STAGE_LOOK_SD = 0.4, 0.4
# A stage is told at about every other stir.
STAGE_TOLD = 0.5

# Titration: 1 g of paste with 0.1 mol/L; a burette read to 0.05 mL, an end point good to 2 %.
ACID_MOL_L, SAMPLE_G = 0.1, 1.0
BURETTE_ML, END_POINT_SHARE = 0.05, 0.02
# The first sample is titrated this long after the lid goes on, and the others at this interval.
TITRATION_FIRST_S, TITRATION_EVERY_S = 3600.0, 2700.0


def check_result(person: Person, seems: float) -> str:
    """The word for a sample whose residual fat seems to be this."""
    if seems < person.clear_below:
        return "clear"
    if person.says_nearly_clear and seems < math.sqrt(person.clear_below * person.hazy_below):
        return "nearly clear"
    return "hazy" if seems < person.hazy_below else "cloudy"


def paste_stage(residual: float, maker_ln: float, rng: np.random.Generator) -> str:
    """The stage of the paste as a maker sees it. maker_ln: how far this maker's idea is off, in ln of the residual."""
    seems = residual * math.exp(maker_ln + rng.normal(0.0, STAGE_LOOK_SD))
    return next(stage for stage, above in STAGE_RESIDUALS if seems >= above)


def free_alkali_mol_per_g(batch: Batch, excess: float, residual: float) -> float:
    """KOH in a gram of paste, mol: excess and residual, times the need per gram.

    excess: the true one, as a fraction of the need. residual: fraction of the fat that is left. Water that has boiled
    off, which makes the paste lighter by a few per cent, is left out.
    """
    need_g = sum(oil.grams * oil.saponification_value for oil in batch.oils) / 1000.0
    flakes_g = need_g * (1.0 + excess) / batch.alkali.assay
    paste_g = sum(oil.grams for oil in batch.oils) + flakes_g + batch.water_grams
    return max(0.0, excess + residual) * need_g / KOH_G_MOL / paste_g


def titration(batch: Batch, excess: float, residual: float, rng: np.random.Generator) -> dict[str, str | float]:
    """The fields of a titration made now, with the errors of burette and end point."""
    true_ml = 1000.0 * SAMPLE_G * free_alkali_mol_per_g(batch, excess, residual) / ACID_MOL_L
    read_ml = true_ml * (1.0 + rng.normal(0.0, END_POINT_SHARE)) + rng.normal(0.0, BURETTE_ML)
    return {"acid_ml": round(max(0.0, read_ml), 2), "acid_mol_l": ACID_MOL_L, "sample_g": SAMPLE_G}
