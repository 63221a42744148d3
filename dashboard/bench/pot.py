"""The pot on the bench: what is in it by the log, water to dilute it, and what neutralises it."""

from collections.abc import Sequence
from dataclasses import dataclass

from dashboard.bench import dosing
from dashboard.bench.form import Form
from dashboard.components.bench_words import Answer, percent, weight
from monitor.chemistry import NO_OFFSET, PhOffset
from monitor.formulation import (
    BatchState,
    Charge,
    Decision,
    Dilution,
    Dose,
    PhReading,
    ResidualAlkali,
    Titration,
    TitrationInputs,
    all_neutralisers,
    batch_state,
    borate_warning,
    charge_of,
    checked_dose,
    decide,
    dilute,
    find_neutraliser,
    free_alkali,
    make_stock_solution,
    neutralising_dose,
    residual_by_excess,
    residual_by_titration,
)
from monitor.model import Batch, Event

TARGETS = ("soap", "paste", "water")
GROUNDS = ("ph", "excess", "titration")
PLACES = {
    "soap_share": ("target", "Real soap"),
    "paste_share": ("target", "Paste in the product"),
    "paste_weighed_g": ("paste_weighed", "The paste"),
    "water_lost_g": ("water_lost", "Water boiled off"),
    "reagent_g": ("given", "The dose"),
    "reagent": ("reagent", "The reagent"),
    "end_ph": ("end_ph", "The pH to stop at"),
    "stock_strength": ("stock_water", "The stock's strength"),
    "temperature_c": ("stock_c", "The stock's temperature"),
    "the": ("ground", "The"),
}


@dataclass(frozen=True, slots=True)
class Made:
    """A cook as the bench sums take it: its charge, its log, and the pot that follows from both."""

    charge: Charge
    events: Sequence[Event]
    now: BatchState


def made_of(form: Form, batch: Batch | None, events: Sequence[Event]) -> Made:
    """The pot by now. Raises FieldError where there is no sheet, or where the paste cannot weigh so much."""
    if batch is None or not batch.oils:
        raise form.refuse("cook", "this cook has no oils on its batch sheet; fill in the charge first")
    paste_g = form.maybe_grams("paste_weighed", "The paste")
    lost_g = form.maybe_grams("water_lost", "Water boiled off")
    try:
        made = charge_of(batch)
        return Made(made, events, batch_state(made, events, water_lost_g=lost_g, paste_weighed_g=paste_g))
    except ValueError as error:
        raise form.told(error, PLACES) from None


def say_pot(said: Answer, now: BatchState) -> None:
    """What is in the pot, in words."""
    pot = now.pot
    said.grams("pot", pot.total_g)
    said.out["pot_soap"] = percent(pot.soap_share)
    said.out["pot_paste"] = percent(pot.paste_share, 0)
    said.say["pot"] = [f"{name} is not in the table: it counts by its weight alone." for name in now.unknown]
    if now.water_added_g:
        said.say["pot"].append(f"Water added by the log: {weight(now.water_added_g, said.ounces)}.")
    if now.sampled_g:
        said.say["pot"].append(f"Taken out as samples: {weight(now.sampled_g, said.ounces)}.")
    if now.paste_g is not None:
        paste, lost = weight(now.paste_g, said.ounces), weight(now.lost_g, said.ounces)
        said.say["pot"].append(f"The paste weighed {paste}: {lost} of water had boiled off.")
    elif now.lost_g:
        said.say["pot"].append(f"Boiled off: {weight(now.lost_g, said.ounces)} of water.")
    said.say["pot"] += now.caveats


def dilution_of(form: Form, made: Made) -> Dilution:
    """The dilution this page asks for. Raises FieldError."""
    by = form.choice("target_by", "The target", TARGETS)
    pot = made.now.pot
    try:
        if by == "water":
            grams = form.grams("target", "Water to add")
            return dilute(pot, made.charge.inputs.portions, water_g=grams)
        words, most = ("Real soap", pot.soap_share) if by == "soap" else ("Paste in the product", pot.paste_share)
        share = form.share("target", words, 2.0, 100.0 * most)
        return dilute(pot, made.charge.inputs.portions, **{f"{by}_share": share})
    except ValueError as error:
        raise form.told(error, PLACES) from None


def dilution_answer(form: Form, made: Made) -> Answer:
    """Water to add, and what comes of it. Raises FieldError."""
    said = Answer(form.ounces)
    say_pot(said, made.now)
    result = dilution_of(form, made)
    said.water("water", result.water_g)
    said.water("first", result.water_g * 2.0 / 3.0)
    said.grams("product", result.product_g)
    said.out["soap"] = percent(result.soap_share)
    said.out["paste"] = percent(result.paste_share, 0)
    said.say["dilution"] = list(result.meaning)
    said.say["fluid"] = [f"Fluid when cold up to about {percent(result.fluid_up_to, 0)}: {result.fluid_words}."]
    said.warn(result.cautions)
    weighed = form.maybe_grams("added", "Water poured in")
    said.show["after"] = weighed is not None
    if weighed is not None:
        after = dilute(made.now.pot, made.charge.inputs.portions, water_g=weighed)
        said.out["after"] = f"{percent(after.soap_share)} real soap, {percent(after.paste_share, 0)} paste"
    return said


def reading_of(form: Form) -> PhReading | None:
    """The pH on this page, or None. Raises FieldError."""
    ph = form.maybe("ph", "The pH", 4.0, 14.0)
    strength = form.number("sample_percent", "The sample's strength", 0.1, 10.0, "%", empty=1.0)
    at_c = form.number("sample_c", "The sample's temperature", 0.0, 60.0, "°C", empty=25.0)
    return None if ph is None else PhReading(ph, strength, at_c)


def reagent_names() -> list[str]:
    """The reagents, those without a warning first."""
    rows = dict.fromkeys(row.name for row in all_neutralisers().values())
    return sorted(rows, key=lambda name: (borate_warning(name) is not None, list(rows).index(name)))


def neutralising_answer(form: Form, made: Made, offset: PhOffset = NO_OFFSET) -> Answer:
    """What to add, in which parts, and when to stop. offset: of the kitchen's pH readings. Raises FieldError."""
    said = Answer(form.ounces)
    say_pot(said, made.now)
    reagent = form.choice("reagent", "The reagent", reagent_names())
    warning = borate_warning(reagent)
    read = form.ticked("warning_read")
    said.show |= dict.fromkeys(("decision", "next", "needed", "stock", "titrated", "dose", "parts", "overshoot"), False)
    said.show["warning"] = warning is not None
    said.say["warning"] = [] if warning is None else [warning]
    ground = form.choice("ground", "How the alkali over is known", GROUNDS)
    said.show["end"] = ground == "ph" or warning is not None
    said.out["reagent"] = reagent
    reading = reading_of(form)
    if warning is not None and not read:
        said.say["dose"] = ["Nothing is dosed until the warning has been read."]
        return said
    if reading is not None:
        _say_decision(said, _decided(made, reading, offset))
    _say_stock(said, form, reagent)
    if ground == "ph":
        _say_by_ph(said, form, made, reading, reagent, offset)
        return said
    said.show["titrated"] = ground == "titration"
    if ground == "titration":
        titration = titration_of(form)
        said.out["titrated"] = f"{titration.koh_percent:.3f} %, give or take {titration.within_percent:.3f}"
        said.warn(titration.cautions)
    dose = _dosed(form, made, ground, reagent, read)
    _say_dose(said, dose)
    given = form.maybe_grams("given", f"{reagent} weighed")
    if given is not None:
        try:
            checked_dose(dose, given)
        except ValueError as error:
            said.show["overshoot"] = True
            said.say["given"] = [str(form.told(error, PLACES))]
    return said


def _say_by_ph(said: Answer, form: Form, made: Made, reading: PhReading | None, reagent: str, offset: PhOffset) -> None:
    history = dosing.readings_of(made.events, reading)
    if not history.readings:
        said.say["dose"] = ["Read the pH of a cooled 1 % sample: the first dose comes from it."]
        return
    dose = dosing.say_next_dose(
        said,
        form,
        made.now.pot,
        history,
        reagent,
        stock_strength=_stock_strength(form),
        warning_read=form.ticked("warning_read"),
        offset=offset,
    )
    given = form.maybe_grams("given", f"{reagent} weighed")
    too_much = None if given is None else dosing.overshoot(dose, given, form.ounces)
    if too_much is not None:
        said.show["overshoot"] = True
        said.say["given"] = [too_much]


def _decided(made: Made, reading: PhReading, offset: PhOffset) -> Decision:
    return decide(
        reading.ph,
        made.now.pot,
        sample_percent=reading.sample_percent,
        temperature_c=reading.temperature_c,
        offset=offset,
    )


def _say_decision(said: Answer, decision: Decision) -> None:
    said.show["decision"] = True
    said.out["decision"] = {
        "act": "Neutralise",
        "optional": "As you like",
        "leave": "Leave it",
        "too low": "Too low: nothing more",
    }[decision.word]
    said.say["decision"] = list(decision.meaning)
    said.warn(decision.cautions, "decision.")


def _say_stock(said: Answer, form: Form, reagent: str) -> None:
    reagent_g = form.maybe_grams("stock_reagent", f"{reagent} in the stock", 0.1, 10_000.0)
    water_g = form.maybe_grams("stock_water", "Water in the stock", 0.1, 10_000.0)
    said.show["stock"] = reagent_g is not None and water_g is not None
    if reagent_g is None or water_g is None:
        return
    at_c = form.number("stock_c", "The stock's temperature", 0.0, 100.0, "°C", empty=20.0)
    try:
        stock = make_stock_solution(reagent, reagent_g, water_g, at_c)
    except ValueError as error:
        raise form.told(error, PLACES) from None
    said.out["stock"] = percent(stock.strength)
    said.say["stock"] = list(stock.meaning)


def _stock_strength(form: Form) -> float | None:
    reagent_g = form.maybe_grams("stock_reagent", "Reagent in the stock", 0.1, 10_000.0)
    water_g = form.maybe_grams("stock_water", "Water in the stock", 0.1, 10_000.0)
    return None if reagent_g is None or water_g is None else reagent_g / (reagent_g + water_g)


def _over(form: Form, made: Made, ground: str) -> ResidualAlkali:
    if ground == "excess":
        return residual_by_excess(made.charge, made.now.pot)
    return residual_by_titration(titration_of(form), made.now.pot)


def titration_of(form: Form) -> Titration:
    """The titration on this page. Raises FieldError."""
    return free_alkali(
        TitrationInputs(
            form.number("acid_ml", "Acid run in", 0.0, 100.0, "mL"),
            form.number("acid_mol_l", "The acid's strength", 0.001, 2.0, "mol/L", empty=0.1),
            form.number("titrated_g", "Soap in the flask", 0.1, 200.0, "g", empty=10.0),
        )
    )


def _dosed(form: Form, made: Made, ground: str, reagent: str, read: bool) -> Dose:
    borate = find_neutraliser(reagent).kind == "borate"
    end_ph = form.number("end_ph", "The pH to stop at", 9.4, 11.0, empty=10.0) if borate else 10.0
    try:
        return neutralising_dose(
            made.now.pot,
            _over(form, made, ground),
            reagent,
            end_ph=end_ph,
            stock_strength=_stock_strength(form),
            warning_read=read,
        )
    except ValueError as error:
        raise form.told(error, PLACES) from None


def _say_dose(said: Answer, dose: Dose) -> None:
    said.show["dose"] = True
    over = dose.residual_alkali
    said.out["over"] = f"{over.low_g:.1f} to {over.high_g:.1f} g"
    said.grams("least", dose.least_g)
    said.out["range"] = f"{weight(dose.least_g, said.ounces)} to {weight(dose.most_g, said.ounces)}"
    said.say["dose"] = list(dose.meaning)
    said.show["parts"] = bool(dose.parts)
    for n, part in enumerate(dose.parts, 1):
        of_stock = "" if part.stock_g is None else f", which is {weight(part.stock_g, said.ounces)} of the stock"
        said.out[f"part{n}"] = weight(part.reagent_g, said.ounces) + of_stock
        said.say[f"part{n}"] = [f"{part.then} The wait: {part.wait_min} minutes."]
    said.say["ph_now"] = [dose.ph_before.words]
    after = dose.ph_after
    said.say["ph_after"] = [
        f"After the parts: about {after.middle:.1f}, somewhere from {after.low:.1f} to {after.high:.1f}."
    ]
    said.warn(dose.cautions, "dose.")
