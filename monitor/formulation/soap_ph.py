"""The pH that a sample of the soap should read, and its uncertainty.

The charge balance of ``equilibrium`` with the soaps as salts of weak acids. Fatty acids set free by hydrolysis collect
in micelles and acid soap, so their apparent pKa is known to one or two units only, and the free alkali has a range of
its own. Both enter the range of the result.
"""

from collections import defaultdict
from dataclasses import dataclass

from monitor.chemistry import KOH_G_PER_MOL, Solution, all_fatty_acids, check_range, fatty_acid_profile, ph
from monitor.formulation.mass_balance import MassBalance
from monitor.formulation.neutralisers import find_neutraliser

# The table's apparent pKa are of single acids half set free; mixing lowers them (Kanicky & Shah, Langmuir 19:2034,
# 2003, abstract seen), and a soap hardly hydrolysed reads lower still. How much is judgement: the middle, and the two
# ends.
PKA_SHIFT = -0.75
PKA_SHIFT_LOW, PKA_SHIFT_HIGH = -2.0, 0.0
# An oil whose acids are unknown is treated as oleic acid.
UNKNOWN_PKA = 9.85


@dataclass(frozen=True, slots=True)
class PhEstimate:
    """The pH that the probe may read.

    sample_percent: soap in the sample, per cent by mass; 100 is the product undiluted.
    """

    low: float
    middle: float
    high: float
    sample_percent: float
    temperature_c: float
    words: str


def sample_solution(
    pot: MassBalance, koh_over_g: float, pka_shift: float, sample_percent: float = 1.0, temperature_c: float = 25.0
) -> Solution:
    """A sample of the pot in water, as mol per kg of water.

    Parameters
    ----------
    pot : the contents.
    koh_over_g : free alkali in the pot before any neutraliser, as KOH, g; below 0 there is unreacted oil and no free
        alkali.
    pka_shift : added to each acid's apparent pKa.
    sample_percent : soap in the sample, per cent by mass, 0.01 to 100.
    temperature_c : 0 to 60 degC.
    """
    check_range("sample_percent", sample_percent, 0.01, 100.0, "%")
    total = pot.total_g
    # Per gram of pot: its own water plus the water of dilution, kg.
    water_kg = (pot.water_g / total + 100.0 / sample_percent - 1.0) / 1000.0
    per_kg = 1.0 / (total * water_kg)
    acids = all_fatty_acids()
    by_pka = _acids_by_pka(pot)
    cations = pot.soap_mol + max(koh_over_g, 0.0) / KOH_G_PER_MOL + 2.0 * pot.carbonate_mol
    boron = citrate = lactate = 0.0
    for addition in pot.reagents:
        reagent = find_neutraliser(addition.what)
        mol = addition.grams / reagent.g_per_mol
        if reagent.kind == "fatty acid":
            by_pka[acids[_fatty_acid_code(reagent.name)].apparent_pka] += mol
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
        tuple((mol * per_kg, pka + pka_shift) for pka, mol in by_pka.items()),
        temperature_c,
    )


def _acids_by_pka(pot: MassBalance) -> defaultdict[float, float]:
    """The fatty acids of the soaps, mol in the pot by apparent pKa."""
    acids = all_fatty_acids()
    # mol in the pot by apparent pKa, because acids of equal pKa act as one in the charge balance.
    by_pka: defaultdict[float, float] = defaultdict(float)
    for soap in pot.soaps:
        profile = fatty_acid_profile(soap.oil)
        if profile is None:
            by_pka[UNKNOWN_PKA] += soap.acid_mol
            continue
        # The profile gives mass fractions; the balance needs mol.
        acids_g = soap.acid_mol * profile.acid_g_per_mol
        for code, share in profile.shares.items():
            by_pka[acids[code].apparent_pka] += acids_g * share / acids[code].acid_g_per_mol
    return by_pka


def _fatty_acid_code(name: str) -> str:
    return next(acid.code for acid in all_fatty_acids().values() if f"{acid.name} acid" == name)


def expected_ph(
    pot: MassBalance,
    koh_over_g: tuple[float, float, float],
    sample_percent: float = 1.0,
    temperature_c: float = 25.0,
) -> PhEstimate:
    """The pH that a sample should read, as a range.

    Parameters
    ----------
    pot : the contents.
    koh_over_g : free alkali in the pot before any neutraliser, as KOH, g: low, central and high.
    sample_percent : soap in the sample, per cent by mass, 0.01 to 100.
    temperature_c : 0 to 60 degC.

    Limits: the apparent pKa are shifted by -2, -0.75 and 0 (judgement); the result is a check for gross errors, not a
    dose.

    References
    ----------
    .. [1] Kanicky et al., Langmuir 16:172 (2000), apparent pKa, from memory.
    .. [2] Kanicky and Shah, Langmuir 19:2034 (2003), mixed chain lengths, abstract seen.

    >>> from monitor.formulation.alkali import ChargeInputs, charge
    >>> from monitor.formulation.mass_balance import cooked_batch
    >>> from monitor.chemistry.oil_amounts import portion
    >>> pot = cooked_batch(charge(ChargeInputs((portion("rapeseed", 600),), water_g=540)))
    >>> reading = expected_ph(pot, (0.0, 3.4, 7.0))
    >>> reading.low < reading.middle < reading.high
    True
    """
    shifts = (PKA_SHIFT_LOW, PKA_SHIFT, PKA_SHIFT_HIGH)
    low, middle, high = (
        ph(sample_solution(pot, koh_g, shift, sample_percent, temperature_c))
        for koh_g, shift in zip(koh_over_g, shifts, strict=True)
    )
    words = (
        f"A {sample_percent:g} % sample at {temperature_c:.0f} °C should read about {middle:.1f}, somewhere from "
        f"{low:.1f} to {high:.1f}; a reading outside that says that a weight, an assay or the probe is off."
    )
    return PhEstimate(low, middle, high, sample_percent, temperature_c, words)
