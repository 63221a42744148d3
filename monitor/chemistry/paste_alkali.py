"""Free alkali in the cooking paste: by titration of a small sample, and the acid such a sample will take."""

import math

from monitor.chemistry.fatty_acids import KOH_G_PER_MOL
from monitor.chemistry.validation import FRACTION, check_range

# Standard uncertainty of a burette reading, mL: about a drop (judgement).
BURETTE_UNCERTAINTY_ML = 0.05
# Standard uncertainty of the end point, relative: where the pink of phenolphthalein is called gone (judgement).
END_POINT_UNCERTAINTY = 0.02


def titrated_koh_share(
    acid_ml: float, acid_mol_l: float, sample_g: float, scale_g: float = 0.01
) -> tuple[float, float]:
    """Free KOH in a titrated sample, g per g of sample, and its standard uncertainty.

        w = V c M(KOH) / (1000 m)
        u^2 = (w_1 u_V)^2 + w^2 (u_e^2 + d^2 / (12 m^2))

    with w_1 the share that one mL of acid means, u_V = 0.05 mL, u_e = 2 %, and d the scale's step, whose error is
    uniform over the step [1]_.

    Parameters
    ----------
    acid_ml : acid run in until the pink is gone, mL, 0 to 100.
    acid_mol_l : its strength, mol of H+ per litre, 0.001 to 2; sulfuric acid gives two for each of its own.
    sample_g : what was dissolved, g, 0.1 to 200.
    scale_g : the smallest step that the scale shows, g, 0.0001 to 100.

    Raises ValueError outside these ranges. Limits: for a sample dissolved in neutral alcohol, where the soap itself is
    not alkaline. Carbonate is not counted, and the strength of the acid is taken as exact.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.3.7 and 5.1.2.

    >>> share, uncertainty = titrated_koh_share(2.30, 0.1000, 10.00)
    >>> round(share, 5), round(uncertainty, 5)
    (0.00129, 4e-05)
    """
    check_range("acid_ml", acid_ml, 0.0, 100.0, "mL")
    check_range("acid_mol_l", acid_mol_l, 0.001, 2.0, "mol/L")
    check_range("sample_g", sample_g, 0.1, 200.0, "g")
    check_range("scale_g", scale_g, 0.0001, 100.0, "g")
    share_per_ml = acid_mol_l * KOH_G_PER_MOL / (1000.0 * sample_g)
    share = acid_ml * share_per_ml
    relative = math.hypot(END_POINT_UNCERTAINTY, scale_g / (math.sqrt(12.0) * sample_g))
    return share, math.hypot(BURETTE_UNCERTAINTY_ML * share_per_ml, share * relative)


def expected_acid_ml(
    converted: float, excess: float, need_per_gram: float, *, acid_mol_l: float = 0.1, sample_g: float = 1.0
) -> float:
    """The acid that a sample of cooking paste takes, mL.

        V = max(1 + e - X, 0) n m / (c M(KOH)) 1000

    Parameters
    ----------
    converted : X, the share of the oils that is soap, 0 to 1.
    excess : e, alkali above the oils' need as a fraction of it, -1 to 1; negative where the alkali is short.
    need_per_gram : n, pure KOH that the oils of one gram of paste take, g, 0 to 0.3.
    acid_mol_l, sample_g : as in ``titrated_koh_share``.

    >>> round(expected_acid_ml(0.97, 0.03, 0.0887), 2), round(expected_acid_ml(0.99, 0.03, 0.0887), 2)
    (0.95, 0.63)
    """
    check_range("converted", converted, 0.0, 1.0, FRACTION)
    check_range("excess", excess, -1.0, 1.0, FRACTION)
    check_range("need_per_gram", need_per_gram, 0.0, 0.3)
    check_range("acid_mol_l", acid_mol_l, 0.001, 2.0, "mol/L")
    check_range("sample_g", sample_g, 0.1, 200.0, "g")
    free = max(1.0 + excess - converted, 0.0) * need_per_gram
    return 1000.0 * free * sample_g / (acid_mol_l * KOH_G_PER_MOL)
