"""The pH readings of a cook that can be compared, and the acid that went in between them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from monitor.formulation.neutralisation import alkali_taken_per_mol, lowest_end_ph
from monitor.formulation.neutralisers import find_neutraliser
from monitor.formulation.pot_response import DosedReading
from monitor.model import Event

# Samples whose strength or temperature differ by more are not compared.
SAME_STRENGTH, SAME_C = 1.2, 10.0
# What a dose can be read from: cooled and diluted, and soap at all.
PH_RANGE, PERCENT_RANGE, C_RANGE = (8.0, 13.0), (0.1, 10.0), (0.0, 60.0)


@dataclass(frozen=True, slots=True)
class DosingHistory:
    """The comparable pH readings of a cook, and the acid between them.

    readings: since water or anything else but neutraliser went in, the first without acid. last_dose_mol: acid of the
    doses between the last two readings. sample_percent, temperature_c: of the samples. waiting_mol: acid that went in
    after the last reading.
    """

    readings: tuple[DosedReading, ...]
    last_dose_mol: float = 0.0
    sample_percent: float = 1.0
    temperature_c: float = 25.0
    waiting_mol: float = 0.0


def dosing_history(events: Sequence[Event]) -> DosingHistory:
    """The comparable readings of a cook. events: in the order in which they happened.

    Readings before water or an addition, before a reagent that the table lacks, and in samples of another strength or
    temperature are left out. A borate counts as what it takes at the first reading's pH; what it takes less by the
    later ones is in the pot's own capacity.
    """
    found = DosingHistory(())
    for event in events:
        if event.kind in ("water added", "added", "paste weighed", "boiled off"):
            found = DosingHistory(())
        elif event.kind == "neutraliser added" and found.readings:
            mol = _acid_mol(event, found.readings[0].ph)
            found = DosingHistory(()) if mol is None else replace(found, waiting_mol=found.waiting_mol + mol)
        elif event.kind == "ph read":
            percent, temperature_c = _number(event, "sample_percent", 1.0), _number(event, "temperature_c", 25.0)
            found = with_ph_reading(found, _number(event, "ph", 0.0), percent, temperature_c)
    return found


def with_ph_reading(found: DosingHistory, ph: float, sample_percent: float, temperature_c: float) -> DosingHistory:
    """The history after one more reading; a new one where its sample is not comparable.

    Left out is a reading that no dose can follow from: pH outside 8 to 13, sample outside 0.1 to 10 % or 0 to 60 degC.
    """
    seen = ((ph, PH_RANGE), (sample_percent, PERCENT_RANGE), (temperature_c, C_RANGE))
    if not all(low <= value <= high for value, (low, high) in seen):
        return found
    strength = sample_percent / found.sample_percent
    alike = 1.0 / SAME_STRENGTH <= strength <= SAME_STRENGTH and abs(temperature_c - found.temperature_c) <= SAME_C
    if not found.readings or not alike:
        return DosingHistory((DosedReading(0.0, ph),), 0.0, sample_percent, temperature_c)
    acid_mol = found.readings[-1].acid_mol + found.waiting_mol
    last_dose_mol = found.waiting_mol or found.last_dose_mol
    readings = (*found.readings, DosedReading(acid_mol, ph))
    return DosingHistory(readings, last_dose_mol, found.sample_percent, found.temperature_c)


def _acid_mol(event: Event, first_ph: float) -> float | None:
    try:
        reagent = find_neutraliser(str(event.fields["reagent"]))
    except ValueError:
        return None
    end_ph = min(max(first_ph, lowest_end_ph(reagent)), 11.0)
    return _number(event, "grams", 0.0) / reagent.g_per_mol * alkali_taken_per_mol(reagent, end_ph)


def _number(event: Event, name: str, default: float) -> float:
    value = event.fields.get(name, default)
    return value if isinstance(value, float) else default
