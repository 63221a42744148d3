"""The paste sample on the bench: the acid to expect from a gram of cooking paste, and what a titration tells."""

from dashboard.bench.form import Form
from dashboard.bench.pot import PLACES, Made
from dashboard.components.bench_words import Answer, percent
from monitor.formulation import TitrationInputs, judge_paste_sample, plan_paste_sample

SAMPLE_G = 1.0


def paste_titration_of(form: Form) -> TitrationInputs:
    """The titrated sample on this page. Raises FieldError."""
    return TitrationInputs(form.number("acid_ml", "Acid run in", 0.0, 100.0, "mL"), _acid_mol_l(form), _sample_g(form))


def minutes_ago_of(form: Form) -> float:
    """How many minutes ago the sample was taken. Raises FieldError."""
    return form.number("minutes_ago", "The time since the sample was taken", 0.0, 240.0, "min", empty=0.0)


def paste_answer(form: Form, made: Made) -> Answer:
    """The acid to expect from a sample, and what was found. Raises FieldError."""
    said = Answer(form.ounces)
    lost_g = made.now.lost_g
    sample_g, acid_mol_l = _sample_g(form), _acid_mol_l(form)
    try:
        sample = plan_paste_sample(made.charge, water_lost_g=lost_g, sample_g=sample_g, acid_mol_l=acid_mol_l)
    except ValueError as error:
        raise form.told(error, PLACES) from None
    said.out["acid"] = f"{sample.expected[-1].acid_ml:.2f} to {sample.expected[0].acid_ml:.2f} mL"
    said.say["expected"] = [
        f"At {percent(each.converted, 0)}: {each.acid_ml:.2f} mL; by the likely excess from {each.least_ml:.2f} to "
        f"{each.most_ml:.2f} mL."
        for each in sample.expected
    ]
    said.warn(sample.cautions)
    acid_ml = form.maybe("acid_ml", "Acid run in", 0.0, 100.0, "mL")
    minutes_ago_of(form)
    said.show["found"] = acid_ml is not None
    if acid_ml is not None:
        found = judge_paste_sample(made.charge, paste_titration_of(form), water_lost_g=lost_g)
        said.out["free"] = f"{found.koh_percent:.2f} %, give or take {found.within_percent:.2f}"
        said.out["converted"] = f"{percent(found.converted, 0)} of the oils"
        low, high = percent(found.converted_low, 0), percent(found.converted_high, 0)
        said.say["found"] = [f"The likely excess leaves open {low} to {high}; a second sample later narrows that."]
    return said


def _sample_g(form: Form) -> float:
    return form.number("titrated_g", "Paste in the flask", 0.1, 200.0, "g", empty=SAMPLE_G)


def _acid_mol_l(form: Form) -> float:
    return form.number("acid_mol_l", "The acid's strength", 0.001, 2.0, "mol/L", empty=0.1)
