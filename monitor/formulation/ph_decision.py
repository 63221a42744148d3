"""What to do at the pH of a cooled 1 % sample, and the next small step where the excess is not known."""

from dataclasses import dataclass

from monitor.chemistry import check_range
from monitor.formulation.cautions import NEVER_TASTE, Caution
from monitor.formulation.neutralisers import DEFAULT, find_allowed_neutraliser

# Common practice, no source.
ACT_ABOVE = 10.0
OPTIONAL_ABOVE = 9.2
CLOUDY_BELOW = 9.0
# A step neutralises this much KOH per kg of product, far less than what turns a soap cloudy (judgement).
STEP_KOH_G_PER_KG = 0.3
USUAL_PERCENT = (0.8, 1.2)
USUAL_C = (18.0, 28.0)


@dataclass(frozen=True, slots=True)
class Decision:
    """The decision at a pH. word: "act", "optional", "leave" or "too low". step_g: reagent for one small step, g."""

    ph: float
    word: str
    reagent: str
    step_g: float
    meaning: tuple[str, ...]
    cautions: tuple[Caution, ...]


def decide(
    ph: float,
    product_g: float,
    reagent: str = DEFAULT,
    *,
    sample_percent: float = 1.0,
    temperature_c: float = 25.0,
    warning_read: bool = False,
) -> Decision:
    """What to do at this pH.

    Parameters
    ----------
    ph : read in a cooled sample, 4 to 14.
    product_g : soap to be neutralised, g, 10 to 1e6.
    reagent : name in the table of neutralisers.
    sample_percent : soap in the sample, per cent by mass, 0.1 to 10; the limits hold from 0.8 to 1.2.
    temperature_c : of the sample, 0 to 60 degC; the limits hold from 18 to 28.
    warning_read : that a person has read ``cautions.BORATES``.

    Raises ValueError outside these ranges, for an unknown reagent, and for a borate whose warning was not read. The
    limits 10, 9.2 and 9 are common practice, no source; a step neutralises 0.3 g of KOH per kg (judgement).

    >>> decide(10.4, 2000).word, round(decide(10.4, 2000).step_g, 2), decide(9.1, 2000).word
    ('act', 0.68, 'leave')
    """
    check_range("ph", ph, 4.0, 14.0)
    check_range("product_g", product_g, 10.0, 1e6, "g")
    check_range("sample_percent", sample_percent, 0.1, 10.0, "%")
    check_range("temperature_c", temperature_c, 0.0, 60.0, "°C")
    row = find_allowed_neutraliser(reagent, warning_read=warning_read)
    word, steps, advice = _advice(ph)
    step_g = steps * STEP_KOH_G_PER_KG * product_g / 1000.0 * row.g_per_g_koh
    meaning = [advice + " (Common practice, no source.)"]
    if not USUAL_PERCENT[0] <= sample_percent <= USUAL_PERCENT[1]:
        meaning.append(f"These bounds are for a 1 % sample; yours is {sample_percent:g} %, so read one at 1 %.")
    if not USUAL_C[0] <= temperature_c <= USUAL_C[1]:
        meaning.append(
            f"These bounds are for a sample near 25 °C; yours was at {temperature_c:.0f} °C. A probe's temperature "
            "compensation mends its slope, not the chemistry: cool the sample and read again."
        )
    return Decision(ph, word, row.name, step_g, tuple(meaning), (Caution("ph", NEVER_TASTE), *row.cautions))


def _advice(ph: float) -> tuple[str, float, str]:
    """The decision's word, the number of steps to add, and one sentence."""
    if ph > ACT_ABOVE:
        return "act", 1.0, f"Above {ACT_ABOVE:g}: neutralise. One step, stir, wait a quarter of an hour, read again."
    if ph >= OPTIONAL_ABOVE:
        sentence = f"From {OPTIONAL_ABOVE:g} to {ACT_ABOVE:g}: as you like; many leave it. Half a step at a time."
        return "optional", 0.5, sentence
    if ph >= CLOUDY_BELOW:
        return "leave", 0.0, f"Below {OPTIONAL_ABOVE:g}: leave it."
    sentence = f"Below {CLOUDY_BELOW:g} the soap may turn cloudy or part: nothing more. A little lye brings it back."
    return "too low", 0.0, sentence
