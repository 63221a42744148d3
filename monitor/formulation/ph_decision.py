"""What to do at the pH of a cooled sample, beside what this soap would read when neutral."""

from dataclasses import dataclass

from monitor.chemistry import NO_OFFSET, PhEstimate, PhOffset, check_range
from monitor.formulation.cautions import NEVER_TASTE, Caution
from monitor.formulation.mass_balance import MassBalance
from monitor.formulation.soap_ph import neutral_reading

# Common practice, no source, of a 1 % sample at 25 degC of a soap that reads 9.75 when neutral: 9.5 to 9.8 is found
# good, above 10 something is done, some like 9.2, below 9 it turns cloudy. Kept as distances from the neutral reading,
# so that they follow the sample's strength and temperature and the kitchen's probe.
USUAL_NEUTRAL = 9.75
ACT_ABOVE = 10.0 - USUAL_NEUTRAL
GOOD_TO = 9.85 - USUAL_NEUTRAL
MILD_BELOW = 9.2 - USUAL_NEUTRAL
CLOUDY_BELOW = 9.0 - USUAL_NEUTRAL
USUAL_C = (15.0, 35.0)


@dataclass(frozen=True, slots=True)
class PhBounds:
    """The readings between which each decision holds, for one sample.

    act_above: higher than what neutral soap explains. good_to, mild_below, cloudy_below: see ``ph_bounds``.
    """

    act_above: float
    good_to: float
    mild_below: float
    cloudy_below: float


@dataclass(frozen=True, slots=True)
class Decision:
    """The decision at a pH. word: "act", "optional", "leave" or "too low". ``next_dose`` says how much.

    neutral: what this soap would read in such a sample when neutral.
    """

    ph: float
    word: str
    neutral: PhEstimate
    bounds: PhBounds
    meaning: tuple[str, ...]
    cautions: tuple[Caution, ...]


def ph_bounds(neutral: PhEstimate) -> PhBounds:
    """The bounds of the decisions about a soap whose neutral reading this is.

    For a usual 1 % sample, neutral at 9.75: cloudy below 9.0, mild below 9.2, good to 9.85, and action above 10, or
    above the high end of the neutral reading where that lies higher.

    >>> ph_bounds(PhEstimate(9.4, 9.75, 10.1, 1.0, 25.0)).act_above
    10.1
    """
    middle = neutral.middle
    return PhBounds(max(middle + ACT_ABOVE, neutral.high), middle + GOOD_TO, middle + MILD_BELOW, middle + CLOUDY_BELOW)


def decide(
    ph: float,
    pot: MassBalance,
    *,
    sample_percent: float = 1.0,
    temperature_c: float = 25.0,
    offset: PhOffset = NO_OFFSET,
) -> Decision:
    """What to do at this pH.

    Parameters
    ----------
    ph : read in a cooled sample, 4 to 14.
    pot : the soap, 10 g to 1000 kg.
    sample_percent : product in the sample, per cent by mass, 0.1 to 10.
    temperature_c : of the sample, 0 to 60 degC.
    offset : of the kitchen's readings.

    Raises ValueError outside these ranges, for an unknown reagent, and for a borate whose warning was not read. The
    bounds are those of ``ph_bounds``; a step neutralises 0.3 g of KOH per kg (judgement).

    >>> from monitor.chemistry import portion
    >>> from monitor.formulation import ChargeInputs, charge, dilute
    >>> from monitor.formulation.mass_balance import cooked_batch
    >>> plan = charge(ChargeInputs((portion("rapeseed", 600),), water_g=540))
    >>> pot = dilute(cooked_batch(plan), plan.inputs.portions, soap_share=0.25).pot
    >>> [decide(ph, pot).word for ph in (10.4, 10.0, 9.6, 9.1, 8.8)]
    ['act', 'optional', 'leave', 'leave', 'too low']
    """
    check_range("ph", ph, 4.0, 14.0)
    check_range("product_g", pot.total_g, 10.0, 1e6, "g")
    check_range("sample_percent", sample_percent, 0.1, 10.0, "%")
    check_range("temperature_c", temperature_c, 0.0, 60.0, "°C")
    neutral = neutral_reading(pot, sample_percent, temperature_c, offset)
    bounds = ph_bounds(neutral)
    word, advice = _advice(ph, bounds)
    meaning = (advice + " (Common practice, no source.)", *_basis(neutral, offset))
    return Decision(ph, word, neutral, bounds, meaning, (Caution("ph", NEVER_TASTE),))


def _advice(ph: float, bounds: PhBounds) -> tuple[str, str]:
    """The decision's word and one sentence."""
    act, good, mild, cloudy = (
        f"{bound:.1f}" for bound in (bounds.act_above, bounds.good_to, bounds.mild_below, bounds.cloudy_below)
    )
    if ph > bounds.act_above:
        return "act", f"Above {act}: neutralise. One dose, stir, wait a quarter of an hour, read again."
    if ph > bounds.good_to:
        return "optional", f"From {good} to {act}: as you like; many leave it."
    if ph >= bounds.mild_below:
        return "leave", f"From {mild} to {good}: found good, leave it."
    if ph >= bounds.cloudy_below:
        return "leave", f"From {cloudy} to {mild}: mild, as some like it. Nothing more."
    sentence = f"Below {cloudy} the soap may turn cloudy or part: nothing more. A little lye brings it back."
    return "too low", sentence


def _basis(neutral: PhEstimate, offset: PhOffset) -> tuple[str, ...]:
    """What the bounds rest on, in sentences."""
    learned = {0: "", 1: " by one titrated soap of yours"}.get(
        offset.readings, f" by {offset.readings} titrated soaps of yours"
    )
    sentences = [
        f"In this sample of {neutral.sample_percent:g} % at {neutral.temperature_c:.0f} °C your soap would read about "
        f"{neutral.middle:.1f} when neutral, {neutral.low:.1f} to {neutral.high:.1f}{learned}."
    ]
    if not USUAL_C[0] <= neutral.temperature_c <= USUAL_C[1]:
        sentences.append("Read it again near 25 °C: a probe's temperature compensation mends its slope alone.")
    return tuple(sentences)
