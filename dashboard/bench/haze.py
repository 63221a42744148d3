"""A batch that stayed hazy, on the bench: what its sums leave open, and what can be done."""

from collections.abc import Sequence

from dashboard.bench.form import Form
from dashboard.bench.pot import PLACES, Made
from dashboard.components.bench_words import Answer
from monitor.formulation import MOST_DEGREES, TRIALS, Haze, free_alkali, judge_haze, last_titration
from monitor.model import Event

MOST_STEPS = 6


def haze_of(form: Form, made: Made, events: Sequence[Event]) -> Haze:
    """What this page asks for. Raises FieldError."""
    run_in = last_titration(events)
    hardness = form.number("hardness", "The hardness", 0.0, MOST_DEGREES, "°dH", empty=0.0)
    water_g = form.maybe_grams("tap_water", "Tap water")
    try:
        return judge_haze(
            made.charge,
            made.now.pot,
            tap_water_g=made.charge.water_g + made.now.water_added_g if water_g is None else water_g,
            hardness_dh=hardness,
            warmed=form.choice("warmed", "The warmed sample", TRIALS),
            thinned=form.choice("thinned", "The thinned sample", TRIALS),
            free_koh_percent=None if run_in is None else free_alkali(run_in).koh_percent,
        )
    except ValueError as error:
        raise form.told(error, PLACES) from None


def answer(form: Form, made: Made, events: Sequence[Event]) -> Answer:
    """The causes and the steps, each with its cautions. Raises FieldError."""
    said, found = Answer(form.ounces), haze_of(form, made, events)
    said.say["causes"] = list(found.causes)
    said.show["lime"] = found.lime_g > 0.0
    if found.lime_g > 0.0:
        said.grams("lime", found.lime_g)
    for number, step in enumerate(found.steps):
        said.out[f"step{number}"] = step.what
        said.say[f"step{number}"] = [step.why]
        said.care[f"step{number}"] = list(step.cautions)
    return said
