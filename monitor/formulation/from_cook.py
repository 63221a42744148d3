"""From the batch sheet and a cook's events to the bench sums: the charge as planned, and the contents by now."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from monitor.chemistry import batch_portions
from monitor.formulation.alkali import Charge, ChargeInputs, WeighedAmounts, charge
from monitor.formulation.mass_balance import MassBalance, cooked_batch
from monitor.formulation.titration import TitrationInputs
from monitor.model import Batch, Event


def charge_inputs(batch: Batch) -> ChargeInputs:
    """The inputs of the alkali charge that a sheet gives; water in grams as on the sheet.

    Raises ValueError for a sheet without oils or water.
    """
    if not batch.oils:
        raise ValueError("the sheet has no oil; at least one [[oil]] is needed")
    alkali = batch.alkali
    return ChargeInputs(
        batch_portions(batch),
        koh_assay=alkali.assay,
        koh_carbonate=alkali.carbonate,
        naoh_share=alkali.naoh_share,
        naoh_assay=alkali.naoh_assay,
        excess=alkali.excess,
        water_g=batch.water_grams,
        glycerol_g=batch.glycerol_grams,
        scale_g=batch.scale_grams,
    )


def charge_of(batch: Batch) -> Charge:
    """The charge as it was made: planned, except for the alkali that the sheet says was weighed."""
    return charge(charge_inputs(batch), WeighedAmounts(koh_g=batch.alkali.grams, naoh_g=batch.alkali.naoh_grams))


# Events that add something to finished paste.
FINISHING = ("water added", "neutraliser added", "added")


@dataclass(frozen=True, slots=True)
class BatchState:
    """The batch after every logged event.

    pot: the contents. unknown: reagents that the table lacks, counted by mass alone. lost_g: water that boiled off, as
    logged or as it follows from a weighing, g. paste_g: the weighed paste, g, or None. caveats: one sentence for each
    logged figure that is impossible and was left out.
    """

    pot: MassBalance
    water_added_g: float
    sampled_g: float
    unknown: tuple[str, ...]
    lost_g: float = 0.0
    paste_g: float | None = None
    caveats: tuple[str, ...] = ()


def batch_state(
    charge: Charge, events: Sequence[Event], *, water_lost_g: float | None = None, paste_weighed_g: float | None = None
) -> BatchState:
    """The batch by its logged events: water, neutralisers and additions go in, samples and boiled-off water come out.

    Parameters
    ----------
    charge : the charge at the start.
    events : in the order in which they happened.
    water_lost_g : water that boiled off, g, in place of every logged figure.
    paste_weighed_g : mass of the paste as it came out of the cook, g, in place of every logged figure; the loss
        follows.

    A weighing is of paste, so it counts as made before the first water or other finishing addition, however late it was
    logged. It is more exact than an estimate, so a logged weighing sets aside what was logged as boiled off before it.

    Raises ValueError when more was taken out than there was, or when the paste cannot have that mass.
    """
    given = water_lost_g is not None or paste_weighed_g is not None
    if given:
        events = [event for event in events if event.kind not in ("paste weighed", "boiled off")]
    weighing = max((n for n, event in enumerate(events) if event.kind == "paste weighed"), default=len(events))
    if weighing < len(events):
        paste_weighed_g = _number(events[weighing], "grams")
        events = [event for n, event in enumerate(events) if n >= weighing or event.kind != "boiled off"]
    before = next((n for n, event in enumerate(events) if event.kind in (*FINISHING, "paste weighed")), len(events))
    lost_g = water_lost_g or 0.0
    current = BatchState(cooked_batch(charge, water_lost_g=lost_g), 0.0, 0.0, (), lost_g)
    for event in events[:before]:
        current = _with_event(current, event)
    if paste_weighed_g is not None:
        try:
            current = _with_weighed_paste(current, paste_weighed_g, charge.inputs.scale_g)
        except ValueError as error:
            if given:
                raise
            current = replace(
                current, caveats=(*current.caveats, f"The paste's weight in the log is left out: {error}.")
            )
    for event in events[before:]:
        current = _with_event(current, event)
    return current


def _with_weighed_paste(current: BatchState, grams: float, scale_g: float) -> BatchState:
    pot = current.pot.with_weighed_mass(grams, scale_g)
    return replace(current, pot=pot, lost_g=current.lost_g + current.pot.total_g - pot.total_g, paste_g=grams)


def _with_event(current: BatchState, event: Event) -> BatchState:
    grams = _number(event, "grams")
    if event.kind == "boiled off":
        if grams > current.pot.water_g:
            sentence = (
                f"{grams:g} g boiled off, by the log, is left out: there are {current.pot.water_g:.0f} g of water."
            )
            return replace(current, caveats=(*current.caveats, sentence))
        return replace(current, pot=current.pot.with_water_boiled_off(grams), lost_g=current.lost_g + grams)
    if event.kind == "water added":
        return replace(current, pot=current.pot.with_water(grams), water_added_g=current.water_added_g + grams)
    if event.kind == "added":
        return replace(current, pot=current.pot.with_addition(str(event.fields["what"]), grams))
    if event.kind == "neutraliser added":
        reagent = str(event.fields["reagent"])
        try:
            return replace(current, pot=current.pot.with_reagent(reagent, grams))
        except ValueError:
            return replace(current, pot=current.pot.with_addition(reagent, grams), unknown=(*current.unknown, reagent))
    if event.kind in ("checked", "titrated"):
        sample_g = _number(event, "sample_g")
        return replace(current, pot=current.pot.with_sample_taken(sample_g), sampled_g=current.sampled_g + sample_g)
    return current


# What a titration before it no longer holds for: a sample of paste that still cooked, or another composition.
_ENDS_A_TITRATION = ("heat off", "finished", *FINISHING)


def last_titration(events: Sequence[Event]) -> TitrationInputs | None:
    """The latest titration of the soap as it is now, or None. events: in the order in which they happened.

    One before the end of the cook was of paste that went on reacting, and what was added since has changed the share.
    """
    latest: TitrationInputs | None = None
    for event in events:
        if event.kind in _ENDS_A_TITRATION:
            latest = None
        elif event.kind == "titrated":
            latest = TitrationInputs(*(_number(event, name) for name in ("acid_ml", "acid_mol_l", "sample_g")))
    return latest


@dataclass(frozen=True, slots=True)
class PhReading:
    """A logged pH and its sample: per cent by mass and degC, 1 % and 25 degC where the log does not say."""

    ph: float
    sample_percent: float
    temperature_c: float


def last_ph(events: Sequence[Event]) -> PhReading | None:
    """The latest pH logged since the last neutraliser, or None. events: in the order in which they happened."""
    latest: PhReading | None = None
    for event in events:
        if event.kind == "neutraliser added":
            latest = None
        elif event.kind == "ph read":
            latest = PhReading(
                _number(event, "ph"), _number(event, "sample_percent", 1.0), _number(event, "temperature_c", 25.0)
            )
    return latest


def _number(event: Event, name: str, default: float = 0.0) -> float:
    value = event.fields.get(name, default)
    return value if isinstance(value, float) else default
