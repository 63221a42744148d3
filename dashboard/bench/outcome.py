"""How a batch looks after its week of rest: what is logged of it, and what to do where it is not clear."""

from dashboard.bench.form import Form
from dashboard.components.bench_words import Answer
from monitor.formulation import PRESERVATIVE, Caution
from monitor.model import LATHERS, OUTCOME_LOOKS, THICKNESSES

NOT_SAID = "not said"
NOT_CLEAR = "Hazy or cloudy: Bench, Haze says what the sums allow, from the mildest step on."
CLEAR = "Look again after a cold night: some soaps turn cloudy below a temperature of their own."


def fields_of(form: Form) -> dict[str, object]:
    """The outcome that stands on this page, for the log. Raises FieldError."""
    look = form.choice("look", "The look", (NOT_SAID, *OUTCOME_LOOKS))
    if look == NOT_SAID:
        raise form.refuse("look", "say first whether it is clear, hazy or cloudy")
    below_c = form.maybe("cloudy_below_c", "The temperature", -20.0, 60.0, "°C")
    said = {
        "look": look,
        "lather": form.choice("lather", "The lather", (NOT_SAID, *LATHERS)),
        "thickness": form.choice("thickness", "The thickness", (NOT_SAID, *THICKNESSES)),
        "cloudy_below_c": below_c,
        "complaints": form.text("complaints", "Complaints", 2000),
        "note": form.text("note", "The note", 2000),
    }
    return {name: value for name, value in said.items() if value not in (None, "", NOT_SAID)}


def answer(form: Form) -> Answer:
    """What follows from how it looks. Raises FieldError."""
    said = Answer(form.ounces)
    look = form.choice("look", "The look", (NOT_SAID, *OUTCOME_LOOKS))
    said.say["next"] = [] if look == NOT_SAID else [CLEAR if look == "clear" else NOT_CLEAR]
    if look != NOT_SAID:
        fields_of(form)
    said.warn([Caution("keeping", PRESERVATIVE)])
    return said
