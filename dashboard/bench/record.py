"""The batch record: what one recording says of a batch, under the headings of good manufacturing practice.

The headings follow the usual contents of a batch manufacturing record (ISO 22716, from memory of its headings): what
was made, of what, with what, how, what was checked, what went otherwise, how much came of it, who stands for it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from dashboard.bench.after import keeping_words
from dashboard.bench.keep import known
from dashboard.bench.record_curve import Picture, course_picture
from dashboard.components.bench_words import percent, weight
from monitor.formulation import (
    BatchState,
    Charge,
    Label,
    TitrationInputs,
    batch_state,
    charge_of,
    free_alkali,
    ingredient_label,
)
from monitor.model import PERSON_EVENTS, Batch, Event, History, event_text
from monitor.probes import ConversionTrace
from monitor.session import Cook

# What is known weeks after the cook.
AFTER = ("outcome", "keeping")
# Each has a section of its own, or says nothing of how the batch was made.
OPERATIONS = tuple(kind for kind in PERSON_EVENTS if kind not in ("checked", "ph read", "looked", "titrated", *AFTER))
LOGGER_DEVIATIONS: Mapping[str, str] = {
    "bad line": "A line from the device could not be read",
    "packs lost": "Packs of readings were lost",
    "rig clock": "The rig's clock, beside this machine's",
    "source lost": "The device fell silent",
    "source back": "The device was back",
    "resumed": "Logging went on after a stop",
}
BOTTLE_ML = 250.0


@dataclass(frozen=True, slots=True)
class Material:
    """A line of what went in. planned: as the first sheet had it; used: as the last has it, or as it was logged."""

    what: str
    lot: str
    planned: str
    used: str
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Moment:
    """Something at a time, Unix seconds."""

    at: int
    what: str
    details: str = ""


@dataclass(frozen=True, slots=True)
class Probe:
    """A channel: how its signal became what is shown. lowest, highest: of the cook, in words."""

    name: str
    unit: str
    readings: int
    lowest: str
    highest: str
    steps: str
    calibrated: int | None
    tolerance: str


@dataclass(frozen=True, slots=True)
class Record:
    """Everything the page prints, in words but for the times, which the browser tells in the viewer's zone.

    trouble: one sentence where the sheet does not add up, else empty.
    """

    name: str
    title: str
    lot: str
    rig: str
    started: int
    ended: int | None
    equipment: tuple[tuple[str, str], ...]
    materials: tuple[Material, ...]
    alkali: tuple[tuple[str, str], ...]
    operations: tuple[Moment, ...]
    checks: tuple[Moment, ...]
    ph: tuple[Moment, ...]
    curve: Picture | None
    probes: tuple[Probe, ...]
    deviations: tuple[Moment, ...]
    result: tuple[tuple[str, str], ...]
    bottled: tuple[tuple[str, str], ...]
    label: Label | None
    keeping: str
    after: tuple[Moment, ...]
    trouble: str


def record_of(cook: Cook) -> Record:
    """The record of a cook, from its recording and the calibrations beside it."""
    history = known(cook)
    batch = history.batch
    ended = cook.finished()
    made, trouble = _made(batch, history)
    return Record(
        name=cook.name,
        title=batch.title if batch else cook.rig,
        lot=batch.lot if batch else "",
        rig=cook.rig,
        started=round(history.started),
        ended=None if ended is None else round(ended),
        equipment=_equipment(cook, batch),
        materials=_materials(history, batch, made[0] if made else None),
        alkali=_alkali(made[0]) if made else (),
        operations=_moments(history, OPERATIONS),
        checks=_moments(history, ("checked", "looked")),
        ph=_moments(history, ("ph read", "titrated")),
        curve=course_picture(history),
        probes=_probes(history, cook.conversion_traces()),
        deviations=_deviations(history),
        result=_result(*made) if made else (),
        bottled=_bottled(history),
        label=_label(batch, *made) if batch and made else None,
        keeping=keeping_words(history.events),
        after=_moments(history, AFTER),
        trouble=trouble,
    )


def _made(batch: Batch | None, history: History) -> tuple[tuple[Charge, BatchState] | None, str]:
    if batch is None or not batch.oils:
        return None, "There is no batch sheet with oils in this recording."
    try:
        charge = charge_of(batch)
        return (charge, batch_state(charge, history.events)), ""
    except ValueError as error:
        return None, f"The sheet does not add up: {error}."


def _equipment(cook: Cook, batch: Batch | None) -> tuple[tuple[str, str], ...]:
    rows = [("Cooker", cook.rig)]
    if batch is not None:
        if batch.cooker_litres is not None:
            rows.append(("Holds, to the rim", f"{batch.cooker_litres:g} L"))
        rows.append(("Scale, in steps of", f"{batch.scale_grams:g} g"))
    return tuple(rows)


def _materials(history: History, batch: Batch | None, charge: Charge | None) -> tuple[Material, ...]:
    if batch is None:
        return ()
    first = history.sheets[0][1]
    planned = {oil.name: oil.grams for oil in first.oils}
    rows = []
    for oil in batch.oils:
        before = planned.get(oil.name)
        value = f"{oil.saponification_value:g} mg KOH/g, {'its certificate' if oil.certified else 'the table'}"
        rows.append(Material(oil.name, oil.lot, "–" if before is None else weight(before), weight(oil.grams), value))
    alkali = batch.alkali
    flakes = "–" if charge is None else weight(charge.koh_g)
    told = "weighed" if alkali.grams is not None else "as worked out; no weight was entered"
    rows.append(
        Material("potassium hydroxide", alkali.lot, _planned_koh(first), flakes, f"{alkali.assay:.1%} KOH; {told}")
    )
    if charge is not None and charge.naoh_g:
        rows.append(Material("sodium hydroxide", "", "–", weight(charge.naoh_g), f"{alkali.naoh_assay:.1%} NaOH"))
    rows.append(Material("water, for the lye", "", weight(first.water_grams), weight(batch.water_grams)))
    if batch.glycerol_grams:
        rows.append(Material("glycerol", "", weight(first.glycerol_grams), weight(batch.glycerol_grams)))
    water_g = sum(float(event.fields["grams"]) for event in history.events_of("water added"))
    if water_g:
        rows.append(Material("water, for dilution", "", "", weight(water_g), "by the log"))
    for event in history.events_of("neutraliser added", "added"):
        what = str(event.fields.get("reagent") or event.fields["what"])
        rows.append(Material(what, "", "", weight(float(event.fields["grams"])), "by the log"))
    return tuple(rows)


def _planned_koh(first: Batch) -> str:
    # The first sheet may already have been written after the weighing; then its plan is not known.
    try:
        return "–" if first.alkali.grams is not None or not first.oils else weight(charge_of(first).koh_g)
    except ValueError:
        return "–"


def _alkali(charge: Charge) -> tuple[tuple[str, str], ...]:
    excess = charge.excess
    return (
        ("Pure KOH that the oils take", weight(charge.need_koh_g)),
        ("Pure KOH put in", weight(charge.pure_koh_g)),
        ("Excess wished for", percent(charge.inputs.excess)),
        ("Excess by the weights", percent(excess.taken)),
        ("Likely true excess (8 in 10)", f"{percent(excess.likely_low)} to {percent(excess.likely_high)}"),
        ("Strength of the lye", percent(charge.lye_strength)),
    )


def _moments(history: History, kinds: Sequence[str]) -> tuple[Moment, ...]:
    return tuple(_moment(event) for event in history.events if event.kind in kinds)


def _moment(event: Event) -> Moment:
    kind = "pH read" if event.kind == "ph read" else event.kind.capitalize()
    words = event_text(event)
    if event.kind == "titrated":
        read = TitrationInputs(*(float(event.fields[name]) for name in ("acid_ml", "acid_mol_l", "sample_g")))
        words += f": {free_alkali(read).koh_percent:.3f} % KOH free"
    return Moment(round(event.measured), kind, words)


def _probes(history: History, chains: Sequence[ConversionTrace]) -> tuple[Probe, ...]:
    found = {chain.channel: chain for chain in chains}
    rows = []
    for name, series in history.series.items():
        chain = found.get(name)
        good = series.value[np.isfinite(series.value)]
        rows.append(
            Probe(
                name,
                "°C" if series.unit == "Cel" else series.unit,
                len(series),
                f"{good.min():.1f}" if len(good) else "–",
                f"{good.max():.1f}" if len(good) else "–",
                "; ".join(chain.steps) if chain and chain.steps else "shown as it was sent",
                None if chain is None or chain.calibrated is None else round(chain.calibrated),
                "not known" if chain is None or chain.tolerance_c is None else f"± {chain.tolerance_c:.1f} °C",
            )
        )
    return tuple(rows)


def _deviations(history: History) -> tuple[Moment, ...]:
    found = [
        Moment(round(event.measured), LOGGER_DEVIATIONS[event.kind], event_text(event))
        for event in history.events
        if event.kind in LOGGER_DEVIATIONS
    ]
    for event in history.logged:
        taken_back = history.withdrawn.get(event.uid)
        if taken_back is not None and taken_back <= history.as_of:
            details = ", ".join(words for words in (event.kind, event_text(event)) if words)
            found.append(Moment(round(taken_back), "An entry was taken back", details))
    for written, _ in history.sheets[1:]:
        if written <= history.as_of:
            found.append(Moment(round(written), "The batch sheet was written anew"))
    for name, series in history.series.items():
        if series.faults:
            first, words = series.faults[0]
            found.append(
                Moment(round(series.measured[first]), f"Probe {name}: {words}", f"{len(series.faults)} readings in all")
            )
    return tuple(sorted(found, key=lambda each: each.at))


def _result(charge: Charge, now: BatchState) -> tuple[tuple[str, str], ...]:
    pot = now.pot
    return (
        ("Put in before the cook", weight(charge.total_g)),
        ("Water added since", weight(now.water_added_g)),
        ("Taken out as samples", weight(now.sampled_g)),
        ("Water boiled off", weight(now.lost_g) if now.lost_g else "not told"),
        *((("Paste, weighed", weight(now.paste_g)),) if now.paste_g is not None else ()),
        ("In the pot by mass balance" + ("" if now.lost_g else ", nothing boiled off"), weight(pot.total_g)),
        ("Real soap in it", f"{percent(pot.soap_share)}, {weight(pot.soap_g)}"),
        ("Paste in it", percent(pot.paste_share, 0)),
    )


def _bottled(history: History) -> tuple[tuple[str, str], ...]:
    rows = []
    for event in history.events_of("bottled"):
        grams = event.fields.get("grams")
        weighed = f", {weight(grams)} of soap" if isinstance(grams, float) else ""
        rows.append(("Bottled", f"{event.fields['bottles']:g} of {event.fields['bottle_ml']:g} mL{weighed}"))
    return tuple(rows)


def _label(batch: Batch, charge: Charge, now: BatchState) -> Label:
    return ingredient_label(charge, now.pot, title=batch.title, lot=batch.lot, made="", contents_ml=BOTTLE_ML)
