"""Neutralisation: how much of which reagent, in which parts, and when to stop.

The dose follows from a titration or from the known excess. A pH alone gives no dose, only the point at which to stop;
where neither is known, neutralise in small steps.
"""

import math
from dataclasses import dataclass, field

from monitor.chemistry import FRACTION, KOH_G_PER_MOL, PhEstimate, acid_constant, check_range, log_activity
from monitor.formulation.alkali import Charge
from monitor.formulation.cautions import BORATES, Caution
from monitor.formulation.jar_neutralising import FIRST_SHARE
from monitor.formulation.mass_balance import MassBalance
from monitor.formulation.neutralisers import DEFAULT, Neutraliser, find_allowed_neutraliser, find_neutraliser
from monitor.formulation.soap_ph import expected_ph
from monitor.formulation.titration import Titration

# Ionic strength of a finished soap, mol/kg, for the dissociation of boric acid (judgement).
SOAP_IONIC_STRENGTH = 0.5
# Half to two thirds first, then the rest, only if the pH still asks for it; minutes between: common practice.
PARTS = (FIRST_SHARE, 1.0 - FIRST_SHARE)
WAIT_MIN = 15
# When the greatest dose exceeds the least by more than this factor, the text warns that the basis is poor.
POOR_GROUND = 2.0


@dataclass(frozen=True, slots=True)
class ResidualAlkali:
    """Free alkali in the pot before any neutraliser, as KOH, g: low, central and high. ground: how it is known."""

    low_g: float
    middle_g: float
    high_g: float
    ground: str


def residual_by_titration(titration: Titration, pot: MassBalance) -> ResidualAlkali:
    """Free alkali from a titration of this soap as it is now, plus what its neutralisers have taken already.

        m_KOH = w / 100 m_pot + n_neutralised M(KOH), with w the titrated per cent of KOH

    Raises ValueError for a soap that contains a borate, which the acid also titrates.
    """
    for addition in pot.reagents:
        if find_neutraliser(addition.what).kind == "borate":
            raise ValueError(
                f"the soap holds {addition.what}, which a titration takes for lye; go by small steps and the pH"
            )
    taken_g = pot.neutralised_mol * KOH_G_PER_MOL
    central, uncertainty = titration.koh_percent / 100.0 * pot.total_g, titration.within_percent / 100.0 * pot.total_g
    return ResidualAlkali(
        max(central - uncertainty, 0.0) + taken_g, central + taken_g, central + uncertainty + taken_g, "titration"
    )


def residual_by_excess(charge: Charge, pot: MassBalance) -> ResidualAlkali:
    """Free alkali from the likely range of the charge's excess, for the part of the soap that is still in the pot."""
    made_mol = charge.need_koh_g * min(1.0 + charge.excess.taken, 1.0) / KOH_G_PER_MOL
    left = pot.soap_mol / made_mol
    low, central, high = (
        max(excess, 0.0) * charge.need_koh_g * left
        for excess in (charge.excess.likely_low, charge.excess.taken, charge.excess.likely_high)
    )
    return ResidualAlkali(min(low, central), central, max(high, central), "known excess")


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the dose: grams of reagent and of its stock solution, if any; then wait and read the pH."""

    reagent_g: float
    stock_g: float | None
    wait_min: int
    then: str


@dataclass(frozen=True, slots=True)
class Dose:
    """The dose of a reagent. reagent_g: for the central free alkali; least_g, most_g: for its low and high ends.

    stock_g: reagent_g as grams of stock solution. g_per_g_koh: reagent per gram of KOH. parts: how to add least_g,
    empty where that is 0. ph_before, ph_after: the pH expected in a 1 % sample without and with least_g.
    """

    reagent: str
    residual_alkali: ResidualAlkali = field(metadata={"key": "over"})
    g_per_g_koh: float
    least_g: float
    reagent_g: float
    most_g: float
    stock_g: float | None
    parts: tuple[Part, ...]
    ph_before: PhEstimate
    ph_after: PhEstimate
    meaning: tuple[str, ...]
    cautions: tuple[Caution, ...]


def lowest_end_ph(reagent: Neutraliser) -> float:
    """The pH below which a reagent takes hardly any alkali, 9.4 for borax; 8 for others: no soap is brought there."""
    return 9.4 if reagent.boron_mol > reagent.oh_mol else 8.0


def alkali_taken_per_mol(reagent: Neutraliser, end_ph: float, temperature_c: float = 25.0) -> float:
    """Alkali, mol, that a mole of reagent takes on the way to a final pH.

    Carboxylic acids react completely. Boron takes alkali as B(OH)4-, by its equilibrium:

        n = b / (1 + 10^(pKa' - pH)) - (b - n_OH)

    with b the boron per mole, n_OH what the reagent takes at most, and pKa' corrected to an ionic strength of 0.5
    mol/kg (judgement) after Davies. Borate that borax brings as such is subtracted.

    Parameters
    ----------
    end_ph : 8 to 11 for boric acid; 9.4 to 11 for borax, which takes no alkali below.
    temperature_c : 0 to 60 degC.

    Raises ValueError where a borate takes almost no alkali.

    >>> round(alkali_taken_per_mol(find_neutraliser("borax"), 10.0), 2)
    1.55
    """
    if reagent.kind != "borate":
        return reagent.oh_mol
    acid = reagent.boron_mol - reagent.oh_mol
    check_range("end_ph", end_ph, lowest_end_ph(reagent), 11.0)
    check_range("temperature_c", temperature_c, 0.0, 60.0, "°C")
    pka = acid_constant("pKa_boric", temperature_c) + log_activity(1, SOAP_IONIC_STRENGTH, temperature_c)
    still_acid = math.exp((pka - end_ph) * math.log(10.0))
    return reagent.boron_mol / (1.0 + still_acid) - acid


def neutralising_dose(
    pot: MassBalance,
    residual_alkali: ResidualAlkali,
    reagent: str = DEFAULT,
    *,
    end_ph: float = 10.0,
    stock_strength: float | None = None,
    warning_read: bool = False,
) -> Dose:
    """The dose for the free alkali that is still in the pot, divided into parts.

        m = (m_KOH - m_taken) M / (n M(KOH)), n by ``alkali_taken_per_mol``, m_taken by earlier neutralisers

    Parameters
    ----------
    residual_alkali : free alkali before any neutraliser.
    reagent : name in the table of neutralisers.
    end_ph : the pH at which to stop, 8 to 11; only the dose of borates depends on it.
    stock_strength : mass fraction of reagent in the stock solution, 0.005 to 0.9.
    warning_read : that a person has read ``cautions.BORATES``; borates are refused without.

    Raises ValueError for an unknown reagent, a borate whose warning was not read, or a number outside its range.

    >>> from monitor.chemistry import portion
    >>> from monitor.formulation import ChargeInputs, charge
    >>> from monitor.formulation.mass_balance import cooked_batch
    >>> pot = cooked_batch(charge(ChargeInputs((portion("rapeseed", 600),), water_g=540)))
    >>> round(neutralising_dose(pot, ResidualAlkali(1.0, 1.0, 1.0, "titration")).reagent_g, 2)
    1.14
    """
    row = find_allowed_neutraliser(reagent, warning_read=warning_read)
    _check_dose_inputs(end_ph, stock_strength)
    per_koh = row.g_per_mol / (alkali_taken_per_mol(row, end_ph) * KOH_G_PER_MOL)
    taken_g = _neutralised_koh_g(pot, end_ph)
    ends = (residual_alkali.low_g, residual_alkali.middle_g, residual_alkali.high_g)
    least, central, most = (max(koh - taken_g, 0.0) * per_koh for koh in ends)
    return Dose(
        row.name,
        residual_alkali,
        per_koh,
        least,
        central,
        most,
        None if stock_strength is None else central / stock_strength,
        _parts(least, stock_strength, end_ph),
        expected_ph(pot, ends),
        expected_ph(pot.with_reagent(row.name, least), ends),
        _meaning(row, residual_alkali, least, most),
        row.cautions,
    )


def _check_dose_inputs(end_ph: float, stock_strength: float | None) -> None:
    if stock_strength is not None:
        check_range("stock_strength", stock_strength, 0.005, 0.9, FRACTION)
    check_range("end_ph", end_ph, 8.0, 11.0)


def _neutralised_koh_g(pot: MassBalance, end_ph: float) -> float:
    """Alkali, as KOH in g, that the neutralisers in the pot have taken at the final pH."""
    reagents = ((find_neutraliser(addition.what), addition.grams) for addition in pot.reagents)
    return sum(
        grams / reagent.g_per_mol * alkali_taken_per_mol(reagent, max(end_ph, 9.4), 25.0) * KOH_G_PER_MOL
        for reagent, grams in reagents
    )


def _parts(least: float, stock_strength: float | None, end_ph: float) -> tuple[Part, ...]:
    """The parts in which to add the least dose, g; none where that is 0."""
    if least <= 0.0:
        return ()
    return tuple(_part(least * share, stock_strength, end_ph, n == len(PARTS)) for n, share in enumerate(PARTS, 1))


def _part(grams: float, stock_strength: float | None, end_ph: float, last: bool) -> Part:
    then = "Stir well, wait, then read a cooled 1 % sample; "
    then += "stop here." if last else f"go on only if it still reads above {end_ph:g}."
    return Part(grams, None if stock_strength is None else grams / stock_strength, WAIT_MIN, then)


def _meaning(reagent: Neutraliser, residual_alkali: ResidualAlkali, least: float, most: float) -> tuple[str, ...]:
    if most <= 0.0:
        return (f"By the {residual_alkali.ground} there is nothing left to neutralise.",)
    sentences = [
        f"By the {residual_alkali.ground} from {least:.1f} to {most:.1f} g may be right; the parts stay at the low end."
    ]
    if least <= 0.0:
        sentences = [
            f"By the {residual_alkali.ground} anything up to {most:.1f} g may be right, and none at all: no ground for "
            "a dose."
        ]
    if most > POOR_GROUND * least:
        sentences.append("That is too wide to go beyond the low end: titrate, or go on in small steps by the pH.")
    if reagent.kind == "fatty acid":
        sentences.append("It becomes soap itself. Melt it in; too much leaves the soap cloudy.")
    return tuple(sentences)


def checked_dose(dose: Dose, reagent_g: float) -> float:
    """The dose, g, that a person chose, when it cannot overshoot. Raises ValueError with the allowed range."""
    why = "which would overshoot and may turn the soap cloudy or part it" if reagent_g > dose.most_g else ""
    return check_range("reagent_g", reagent_g, 0.0, dose.most_g, "g", why)


def borate_warning(reagent: str) -> str | None:
    """The warning to read before this reagent is dosed, or None where it needs none."""
    return BORATES if find_neutraliser(reagent).kind == "borate" else None
