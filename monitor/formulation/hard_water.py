"""Hard water: the soap that its calcium and magnesium bind as lime soap, which stays as haze and lathers no more."""

from monitor.chemistry import check_range

# mmol of alkaline earth ions per litre in one German degree: 10 mg of CaO, 56.08 g/mol (DIN 38409-6, from memory).
MMOL_PER_DEGREE = 10.0 / 56.08
# Soap ions that one calcium or magnesium ion binds: Ca(RCOO)2.
SOAPS_PER_ION = 2.0
MOST_DEGREES = 60.0


def lime_soap_g(water_g: float, hardness_dh: float, soap_g_per_mol: float) -> float:
    """Soap that is lost to the hardness of the water that was poured in, g.

        m = 2 h c V M,  c = 0.1783 mmol/L for each German degree

    Parameters
    ----------
    water_g : tap water, g, 0 to 1e6; a gram counts as a millilitre.
    hardness_dh : total hardness, German degrees, 0 to 60; 1 degree is 1.79 French ones and 17.8 mg/L of CaCO3.
    soap_g_per_mol : mean molar mass of the potassium soap, 150 to 500.

    Limits: all of the hardness is bound, as it is wherever there is far more soap than lime; carbonate in the flakes
    binds some of it first, so less is lost.

    >>> round(lime_soap_g(1000.0, 1.0, 320.6), 3)
    0.114
    """
    check_range("water_g", water_g, 0.0, 1e6, "g")
    check_range("hardness_dh", hardness_dh, 0.0, MOST_DEGREES, "degrees")
    check_range("soap_g_per_mol", soap_g_per_mol, 150.0, 500.0, "g/mol")
    return SOAPS_PER_ION * hardness_dh * MMOL_PER_DEGREE / 1000.0 * water_g / 1000.0 * soap_g_per_mol
