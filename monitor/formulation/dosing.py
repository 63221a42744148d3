"""The next dose by the pH: first by the model, then by what the pot's own doses did, as near as a probe can tell."""

import math
from dataclasses import dataclass, replace

from monitor.chemistry import NO_OFFSET, PhOffset, check_range
from monitor.formulation.cautions import Caution
from monitor.formulation.jar_neutralising import FIRST_SHARE, READING_NOISE
from monitor.formulation.mass_balance import MassBalance
from monitor.formulation.neutralisation import WAIT_MIN, alkali_taken_per_mol, lowest_end_ph
from monitor.formulation.neutralisers import DEFAULT, Neutraliser, find_allowed_neutraliser
from monitor.formulation.ph_decision import ph_bounds
from monitor.formulation.ph_history import DosingHistory
from monitor.formulation.pot_response import Response
from monitor.formulation.soap_ph import neutral_reading

# This near the target, two standard deviations of a reading, the probe tells no closer (judgement).
DONE_WITHIN = 2.0 * READING_NOISE
# A later dose is this part of the low end of what is still needed. With it, simulated pots end in three to five
# readings, and hardly ever a fifth of a unit too low.
LATER_SHARE = 0.9
# After a dose whose effect was too small to see the next is at most so many times as large.
AT_MOST_TIMES = 3.0
# A pot that has had so many times the model's high end does not answer as soap does (judgement).
PUZZLING_TIMES = 1.5


@dataclass(frozen=True, slots=True)
class NextDose:
    """What to add now.

    word: "dose", "good" (nothing to bring down), "done", "read" (the last dose is not read yet) or "puzzle" (more went
    in than the soap should need). needed_g: reagent from the last reading to the target, g: low, middle, high.
    g_per_ph: the same for each unit of pH. dose_g: to add now, g, 0 unless word is "dose". stock_g: the same as stock
    solution, None without one. by_pot: whether this pot's own doses are behind the numbers, not the model alone.
    """

    word: str
    reagent: str
    ph: float
    target_ph: float
    needed_g: tuple[float, float, float]
    g_per_ph: tuple[float, float, float]
    dose_g: float
    stock_g: float | None
    wait_min: int
    by_pot: bool
    meaning: tuple[str, ...]
    cautions: tuple[Caution, ...]


def check_target(target_ph: float, ph: float, clear_from_ph: float, reagent: Neutraliser) -> None:
    """Raises ValueError, one sentence with the reason and the range, for a pH that is no target.

    Parameters
    ----------
    target_ph : where to stop. ph : read now. clear_from_ph : below it the soap may turn cloudy.
    reagent : a borate takes no alkali below some pH.
    """
    reach, low = lowest_end_ph(reagent), clear_from_ph
    why = f"below {_up(low):g} this soap may turn cloudy or part"
    if reach > low:
        low, why = reach, f"{reagent.name} takes no alkali below pH {reach:g}"
    low, high = _up(low), math.floor((ph - DONE_WITHIN) * 100.0 + 1e-6) / 100.0
    if low > high:
        raise ValueError(f"end_ph is {target_ph:g}; {why}, and the soap reads {ph:g} already: leave it as it is")
    if target_ph > high:
        raise ValueError(
            f"end_ph is {target_ph:g}; the soap reads {ph:g} already and acid only brings it down, so it must be from "
            f"{low:g} to {high:g}"
        )
    if target_ph < low:
        raise ValueError(f"end_ph is {target_ph:g}; {why}, so it must be from {low:g} to {high:g}")


def good_ph(
    pot: MassBalance, sample_percent: float = 1.0, temperature_c: float = 25.0, offset: PhOffset = NO_OFFSET
) -> float:
    """The highest pH that this soap is found good at, in a sample so made; rounded down to a tenth."""
    good_to = ph_bounds(neutral_reading(pot, sample_percent, temperature_c, offset)).good_to
    return math.floor(good_to * 10.0) / 10.0


def _up(ph: float) -> float:
    return math.ceil(ph * 100.0 - 1e-6) / 100.0


def next_dose(
    pot: MassBalance,
    history: DosingHistory,
    target_ph: float | None = None,
    reagent: str = DEFAULT,
    *,
    stock_strength: float | None = None,
    warning_read: bool = False,
    offset: PhOffset = NO_OFFSET,
) -> NextDose:
    """The next dose towards a pH, by the readings so far.

    First 0.6 of the model's low end; then 0.9 of the low end of what the pot's own doses say is still needed, at most
    three times the last dose where that moved the pH by less than a probe's scatter. It ends within 0.1 of the target.

    Parameters
    ----------
    pot : the contents by now, its neutralisers in it.
    history : at least one reading.
    target_ph : as ``check_target``; None for the high end of what this soap is found good at.
    stock_strength : mass fraction of reagent in the stock solution, 0.005 to 0.9.
    warning_read : that a person has read ``cautions.BORATES``.
    offset : of the kitchen's readings.

    A borate takes what it takes at the target, by its equilibrium (``alkali_taken_per_mol``).

    Raises ValueError without a reading, for a target that is refused, and as ``find_allowed_neutraliser``.
    """
    row = find_allowed_neutraliser(reagent, warning_read=warning_read)
    if stock_strength is not None:
        check_range("stock_strength", stock_strength, 0.005, 0.9)
    if not history.readings:
        raise ValueError("readings are none; read the pH of a cooled sample first")
    first, last = history.readings[0], history.readings[-1]
    sample = (history.sample_percent, history.temperature_c, offset)
    bounds = ph_bounds(neutral_reading(pot, *sample))
    if target_ph is None:
        target_ph = max(good_ph(pot, *sample), lowest_end_ph(row))
        if first.ph <= target_ph + DONE_WITHIN:
            return _ended("good", row, last.ph, target_ph)
    check_target(target_ph, max(first.ph, last.ph), bounds.cloudy_below, row)
    if last.ph <= target_ph + DONE_WITHIN:
        return _ended("done", row, last.ph, target_ph)
    if history.waiting_mol:
        return _ended("read", row, last.ph, target_ph)
    response = Response(pot, history.readings, target_ph, *sample)
    dose = _dose(row, response, history.last_dose_mol)
    return dose if stock_strength is None else replace(dose, stock_g=dose.dose_g / stock_strength)


def _dose(row: Neutraliser, response: Response, last_dose_mol: float) -> NextDose:
    target_ph, last = response.target_ph, response.readings[-1]
    per_mol_g = row.g_per_mol / alkali_taken_per_mol(row, target_ph)
    by_pot = last.acid_mol > 0.0
    low, middle, high = (mol * per_mol_g for mol in (response.remaining() if by_pot else response.by_model()))
    dose_g = (LATER_SHARE if by_pot else FIRST_SHARE) * low
    if by_pot and response.readings[-2].ph - last.ph < DONE_WITHIN:
        dose_g = min(dose_g, AT_MOST_TIMES * last_dose_mol * per_mol_g)
    if dose_g <= 0.0 or last.acid_mol > PUZZLING_TIMES * response.by_model()[2]:
        return _ended("puzzle", row, last.ph, target_ph)
    fall = last.ph - target_ph
    needed = (low, middle, high)
    per_ph = (low / fall, middle / fall, high / fall)
    words = _dose_words(needed, fall, by_pot)
    return NextDose(
        "dose", row.name, last.ph, target_ph, needed, per_ph, dose_g, None, WAIT_MIN, by_pot, words, row.cautions
    )


def _dose_words(needed: tuple[float, float, float], fall: float, by_pot: bool) -> tuple[str, ...]:
    low, middle, high = needed
    basis = "By what this pot did" if by_pot else "By the model alone"
    return (
        f"{basis}, {fall:.2f} down takes {middle:.2g} g, likely {low:.2g} to {high:.2g} g; the dose stays below the "
        "low end.",
        f"Stir well, wait {WAIT_MIN} minutes, read a sample of the same strength and log it: the next dose follows.",
    )


_ENDED = {
    "good": "It reads {ph:g}, and about {target:g} is found good: nothing to add. For less, set the pH to stop at.",
    "done": "It reads {ph:g}, as near to {target:g} as a probe can tell: stop here.",
    "read": "A dose went in after the last reading: wait a quarter of an hour, then read a sample.",
    "puzzle": "The pot has had more than its soap should need and still reads {ph:g}: check the probe in a buffer, or "
    "titrate. Nothing more until then.",
}


def _ended(word: str, row: Neutraliser, ph: float, target_ph: float) -> NextDose:
    nothing = (0.0, 0.0, 0.0)
    words = _ENDED[word].format(ph=ph, target=target_ph)
    return NextDose(word, row.name, ph, target_ph, nothing, nothing, 0.0, None, WAIT_MIN, False, (words,), row.cautions)
