"""The next dose on the bench, by the pH readings of the cook and of the page."""

from collections.abc import Sequence

from dashboard.bench.form import Form
from dashboard.components.bench_words import Answer, weight
from monitor.chemistry import PhOffset
from monitor.formulation import (
    DosingHistory,
    MassBalance,
    NextDose,
    PhReading,
    dosing_history,
    next_dose,
    with_ph_reading,
)
from monitor.model import Event

HEADINGS = {
    "good": "Nothing to add",
    "done": "Stop here",
    "read": "Wait, then read",
    "puzzle": "Nothing more",
}
LOWEST_PH, HIGHEST_PH = 8.0, 11.0
PLACES = {
    "end_ph": ("end_ph", "The pH to stop at"),
    "stock_strength": ("stock_reagent", "The stock's strength"),
}


def readings_of(events: Sequence[Event], reading: PhReading | None) -> DosingHistory:
    """The log's readings, and the page's own where it is not the last one logged."""
    found = dosing_history(events)
    if reading is None or (found.readings and found.readings[-1].ph == reading.ph):
        return found
    return with_ph_reading(found, reading.ph, reading.sample_percent, reading.temperature_c)


def say_next_dose(
    said: Answer,
    form: Form,
    pot: MassBalance,
    history: DosingHistory,
    reagent: str,
    *,
    stock_strength: float | None,
    warning_read: bool,
    offset: PhOffset,
) -> NextDose:
    """The next dose in words. Raises FieldError for a pH to stop at that is refused, and says why."""
    target = form.maybe("end_ph", "The pH to stop at", LOWEST_PH, HIGHEST_PH)
    try:
        dose = next_dose(
            pot, history, target, reagent, stock_strength=stock_strength, warning_read=warning_read, offset=offset
        )
    except ValueError as error:
        raise form.told(error, PLACES) from None
    said.show["next"] = True
    said.out["next"] = HEADINGS.get(dose.word) or weight(dose.dose_g, said.ounces)
    if dose.stock_g is not None:
        said.out["next"] += f", which is {weight(dose.stock_g, said.ounces)} of the stock"
    said.show["needed"] = dose.word == "dose"
    said.out["needed"] = _range(dose.needed_g, said.ounces)
    said.out["target"] = f"{dose.target_ph:g}"
    low, middle, high = dose.g_per_ph
    said.out["response"] = _range((low / 10.0, middle / 10.0, high / 10.0), said.ounces)
    said.say["next"] = list(dose.meaning)
    said.warn(dose.cautions, "next.")
    return dose


def _range(grams: tuple[float, float, float], ounces: bool) -> str:
    low, middle, high = (weight(each, ounces) for each in grams)
    return f"{middle}, likely {low} to {high}"


def overshoot(dose: NextDose, given_g: float, ounces: bool) -> str | None:
    """Why so much may be too much, in a sentence, or None."""
    low_g = dose.needed_g[0]
    if dose.word != "dose" or given_g <= low_g:
        return None
    return (
        f"{weight(given_g, ounces)} may overshoot and turn the soap cloudy: up to {weight(low_g, ounces)} is on the "
        "safe side now."
    )
