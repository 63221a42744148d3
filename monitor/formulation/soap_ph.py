"""The pH of a pot's soap: what a sample should read, what it would read when neutral, and the acid between readings."""

from monitor.chemistry import (
    KOH_G_PER_MOL,
    NO_OFFSET,
    PhEstimate,
    PhOffset,
    Solution,
    acid_between_readings,
    check_range,
    expected_reading,
)
from monitor.formulation.mass_balance import MassBalance
from monitor.formulation.neutralisers import find_neutraliser


def sample_solution(
    pot: MassBalance, koh_over_g: float, sample_percent: float = 1.0, temperature_c: float = 25.0
) -> Solution:
    """A sample of the pot in water, as mol per kg of water.

    Parameters
    ----------
    pot : the contents.
    koh_over_g : free alkali in the pot before any neutraliser, as KOH, g; below 0 there is unreacted oil and no free
        alkali.
    sample_percent : product in the sample, per cent by mass, 0.01 to 100.
    temperature_c : 0 to 60 degC.
    """
    per_kg = 1.0 / sample_water_kg(pot, sample_percent)
    soap = pot.soap_mol
    cations = soap + max(koh_over_g, 0.0) / KOH_G_PER_MOL + 2.0 * pot.carbonate_mol
    boron = citrate = lactate = 0.0
    for addition in pot.reagents:
        reagent = find_neutraliser(addition.what)
        mol = addition.grams / reagent.g_per_mol
        if reagent.kind == "fatty acid":
            soap += mol
        elif reagent.kind == "borate":
            boron += mol * reagent.boron_mol
            # Borax contains two sodium per four boron.
            cations += mol * (2.0 if reagent.boron_mol == 4.0 else 0.0)
        elif reagent.name.startswith("citric"):
            citrate += mol
        else:
            lactate += mol
    return Solution(
        cations * per_kg,
        boron * per_kg,
        citrate * per_kg,
        pot.carbonate_mol * per_kg,
        lactate * per_kg,
        soap * per_kg,
        temperature_c,
    )


def sample_water_kg(pot: MassBalance, sample_percent: float) -> float:
    """The water when the whole pot is diluted as the sample is, kg: its own and that of the dilution.

    sample_percent: product in the sample, per cent by mass, 0.01 to 100.
    """
    check_range("sample_percent", sample_percent, 0.01, 100.0, "%")
    return (pot.water_g + pot.total_g * (100.0 / sample_percent - 1.0)) / 1000.0


def neutral_reading(
    pot: MassBalance, sample_percent: float = 1.0, temperature_c: float = 25.0, offset: PhOffset = NO_OFFSET
) -> PhEstimate:
    """The pH that a sample of this soap would read without free alkali and without any neutraliser.

    Parameters
    ----------
    pot : the contents; its neutralisers are left out, its carbonate stays.
    sample_percent : product in the sample, per cent by mass, 0.01 to 100. Ten times as much reads half a unit higher.
    temperature_c : 0 to 60 degC, by the water's own constant.
    offset : of the kitchen.

    >>> from monitor.chemistry import portion
    >>> from monitor.formulation import ChargeInputs, charge, dilute
    >>> from monitor.formulation.mass_balance import cooked_batch
    >>> plan = charge(ChargeInputs((portion("rapeseed", 600),), water_g=540))
    >>> pot = dilute(cooked_batch(plan), plan.inputs.portions, soap_share=0.25).pot
    >>> estimate = neutral_reading(pot)
    >>> round(estimate.low, 1), round(estimate.middle, 1), round(estimate.high, 1)
    (9.4, 9.8, 10.1)
    """
    per_kg = 1.0 / sample_water_kg(pot, sample_percent)
    carbonate = pot.carbonate_mol * per_kg
    soap = pot.soap_mol * per_kg
    solution = Solution(soap + 2.0 * carbonate, carbonate=carbonate, soap=soap, temperature_c=temperature_c)
    return expected_reading(solution, (0.0, 0.0), sample_percent, offset)


def acid_between(
    pot: MassBalance,
    from_ph: float,
    to_ph: float,
    sample_percent: float = 1.0,
    temperature_c: float = 25.0,
    offset: PhOffset = NO_OFFSET,
) -> tuple[float, float, float]:
    """Acid for the whole pot, mol of H+, that brings a sample's reading down: low, middle and high.

    Parameters
    ----------
    pot : the contents, with the neutralisers that are in it.
    from_ph, to_ph : readings of a sample, 4 to 14; raises ValueError where the second is above the first.
    sample_percent : product in the sample, per cent by mass, 0.01 to 100.
    temperature_c : 0 to 60 degC.
    offset : of the kitchen.

    Limits: the wide range is that of acid soap below the neutral pH, fitted to one figure (``ACID_SOAP_PER_PH``). The
    acid gives off all its H+: true of citric and lactic acid above pH 8.

    >>> from monitor.chemistry import portion
    >>> from monitor.formulation import ChargeInputs, charge, dilute
    >>> from monitor.formulation.mass_balance import cooked_batch
    >>> plan = charge(ChargeInputs((portion("rapeseed", 600),), water_g=540))
    >>> pot = dilute(cooked_batch(plan), plan.inputs.portions, soap_share=0.25).pot
    >>> low, middle, high = acid_between(pot, 9.65, 9.15)
    >>> low < middle < high
    True
    """
    sample = sample_solution(pot, 0.0, sample_percent, temperature_c)
    water_kg = sample_water_kg(pot, sample_percent)
    low, middle, high = acid_between_readings(sample, from_ph, to_ph, offset)
    return low * water_kg, middle * water_kg, high * water_kg


def expected_ph(
    pot: MassBalance,
    koh_over_g: tuple[float, float, float],
    sample_percent: float = 1.0,
    temperature_c: float = 25.0,
    offset: PhOffset = NO_OFFSET,
) -> PhEstimate:
    """The pH that a sample should read.

    Parameters
    ----------
    pot : the contents.
    koh_over_g : free alkali in the pot before any neutraliser, as KOH, g: low, central and high.
    sample_percent : product in the sample, per cent by mass, 0.01 to 100.
    temperature_c : 0 to 60 degC.
    offset : of the kitchen.

    >>> from monitor.formulation.alkali import ChargeInputs, charge
    >>> from monitor.formulation.mass_balance import cooked_batch
    >>> from monitor.chemistry.oil_amounts import portion
    >>> pot = cooked_batch(charge(ChargeInputs((portion("rapeseed", 600),), water_g=540)))
    >>> reading = expected_ph(pot, (0.0, 3.4, 7.0))
    >>> reading.low < reading.middle < reading.high
    True
    """
    low, central, high = (sample_solution(pot, koh_g, sample_percent, temperature_c) for koh_g in koh_over_g)
    ends = (central.cations - low.cations, high.cations - central.cations)
    return expected_reading(central, ends, sample_percent, offset)
