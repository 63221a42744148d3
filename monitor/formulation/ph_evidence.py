"""What a finished cook says of its kitchen's pH readings: a titrated soap and a reading of the same soap."""

from collections.abc import Sequence

from monitor.chemistry import ph
from monitor.formulation.from_cook import FINISHING, PhReading, batch_state, charge_of, last_ph, last_titration
from monitor.formulation.mass_balance import MassBalance
from monitor.formulation.neutralisation import residual_by_titration
from monitor.formulation.soap_ph import sample_solution
from monitor.formulation.titration import TitrationInputs, free_alkali
from monitor.model import Batch, Event

# Readings outside these are no evidence: the dilution, in per cent, and the temperature, degC, are part of the model.
PERCENTS, TEMPERATURES_C = (0.1, 10.0), (10.0, 40.0)


def ph_deviations(batch: Batch, events: Sequence[Event]) -> tuple[tuple[float, float], ...]:
    """How far each reading of a titrated soap lies above the model, pH, with the standard deviation of the model there.

    Parameters
    ----------
    batch : with its oils.
    events : of a finished cook, in the order in which they happened.

    A titration and a reading belong together when both are of cooked soap, with no water, neutraliser or addition
    between them. The latest reading of each titrated soap counts. Left out: soap with a borate, which the acid takes
    for lye, and soap with an acid in which nothing was titrated, because it may be beyond neutral. The standard
    deviation is half of what the burette leaves open.

    Raises ValueError for a sheet from which no charge follows.
    """
    charge = charge_of(batch)
    found = []
    for stretch, end in _stretches(events):
        titration, reading = last_titration(stretch), last_ph(stretch)
        if titration is None or reading is None or not _is_usable(reading):
            continue
        deviation = _deviation(batch_state(charge, events[:end]).pot, titration, reading)
        if deviation is not None:
            found.append(deviation)
    return tuple(found)


def _stretches(events: Sequence[Event]) -> list[tuple[Sequence[Event], int]]:
    """The runs of events of cooked soap, whose alkali no longer changes by itself, each with the index of its end."""
    cooked = next(
        (n for n, event in enumerate(events) if event.kind == "finished" or event.fields.get("result") == "clear"),
        len(events),
    )
    cuts = [n for n, event in enumerate(events) if n > cooked and event.kind in FINISHING]
    return [(events[begin:end], end) for begin, end in zip([cooked, *cuts], [*cuts, len(events)], strict=True)]


def _is_usable(reading: PhReading) -> bool:
    return (
        PERCENTS[0] <= reading.sample_percent <= PERCENTS[1]
        and TEMPERATURES_C[0] <= reading.temperature_c <= TEMPERATURES_C[1]
    )


def _deviation(pot: MassBalance, inputs: TitrationInputs, reading: PhReading) -> tuple[float, float] | None:
    """Reading minus model, and the standard deviation that the titration leaves the model; None without evidence."""
    if pot.reagents and inputs.acid_ml == 0.0:
        return None
    try:
        alkali = residual_by_titration(free_alkali(inputs), pot)
    except ValueError:
        return None
    low, middle, high = (
        ph(sample_solution(pot, koh_g, reading.sample_percent, reading.temperature_c))
        for koh_g in (alkali.low_g, alkali.middle_g, alkali.high_g)
    )
    return reading.ph - middle, (high - low) / 2.0
