"""Doses by the pH: they end, they do not overshoot, a refused target says why, and borax counts as what it takes."""

import math
import random
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from phreeqpython import PhreeqPython

from monitor.chemistry import KOH_G_PER_MOL, Solution, acid_at, ph
from monitor.formulation import DosingHistory, dosing_history, neutral_reading, next_dose, with_ph_reading
from monitor.formulation.dilution import dilute
from monitor.formulation.dosing import DONE_WITHIN, check_target
from monitor.formulation.mass_balance import MassBalance, cooked_batch
from monitor.formulation.neutralisation import alkali_taken_per_mol
from monitor.formulation.neutralisers import find_neutraliser
from monitor.formulation.ph_decision import ph_bounds
from monitor.formulation.soap_ph import acid_between, sample_solution, sample_water_kg
from monitor.model import Event, make_event
from tests.formulation.batches import single_oil_charge

CITRIC_G_PER_MOL_H = 192.124 / 3.0
# (read at first, wanted): small and large falls, from above and below what neutral soap reads.
FALLS = ((10.2, 9.6), (9.9, 9.5), (9.65, 9.15), (10.6, 9.5))


def product(oil: str = "rapeseed") -> MassBalance:
    made = single_oil_charge(oil)
    return dilute(cooked_batch(made), made.inputs.portions, soap_share=0.25).pot


POT = product()


def true_pot(acid_soap_per_ph: float, alkali_factor: float, first_ph: float) -> Callable[[float], float]:
    """The true pH of a pot after so much acid, mol of H+: any mixture of the model's ends, solved for itself."""
    soapy = replace(sample_solution(POT, 0.0), acid_soap_per_ph=acid_soap_per_ph)
    bare, kg = replace(soapy, soap=0.0), sample_water_kg(POT, 1.0)

    def acid(at: float) -> float:
        alone = acid_at(bare, at)
        return (acid_at(soapy, at) - alone + alkali_factor * alone) * kg

    def reads(mol: float) -> float:
        low, high = 5.0, 13.0
        for _ in range(30):
            middle = (low + high) / 2.0
            low, high = (low, middle) if acid(middle) - acid(first_ph) < mol else (middle, high)
        return low

    return reads


def history_of(readings: list[tuple[float, float]]) -> DosingHistory:
    """A history from (grams of citric acid before the reading, pH)."""
    events = []
    for n, (grams, ph_read) in enumerate(readings):
        if grams:
            events.append(event(2 * n, "neutraliser added", reagent="citric acid", grams=grams))
        events.append(event(2 * n + 1, "ph read", ph=ph_read, sample_percent=1.0, temperature_c=25.0))
    return dosing_history(events)


def event(n: int, kind: str, **fields: object) -> Event:
    return make_event(f"an-event-{n}", kind, float(n), float(n), fields)


def neutralised(
    reads: Callable[[float], float], first_ph: float, target: float, draw: random.Random
) -> Iterator[float]:
    """The readings, and the true pH last, of a person who does as told."""

    def probe(mol: float) -> float:
        return round(reads(mol) + draw.gauss(0.0, 0.05), 2)

    given, readings = 0.0, [(0.0, probe(0.0))]
    yield readings[0][1]
    while len(readings) < 12 and readings[-1][1] > target + DONE_WITHIN:
        told = next_dose(POT, history_of(readings), target)
        assert told.word == "dose" and told.dose_g < told.needed_g[0]
        given += told.dose_g
        readings.append((told.dose_g, probe(given / CITRIC_G_PER_MOL_H)))
        yield readings[-1][1]
    yield reads(given / CITRIC_G_PER_MOL_H)


@pytest.mark.parametrize(("first_ph", "target"), FALLS)
def test_simulated_pots_end_in_three_to_five_readings_and_do_not_overshoot(first_ph: float, target: float) -> None:
    draw, counts, ends = random.Random(11), [], []
    for acid_soap in (0.0, 0.1, 0.2, 0.26, 0.33):
        for factor in (0.65, 1.0, 1.55):
            *readings, end = neutralised(true_pot(acid_soap, factor, first_ph), first_ph, target, draw)
            counts.append(len(readings))
            ends.append(end - target)
    assert sorted(counts)[len(counts) // 2] <= 4
    assert sum(count <= 5 for count in counts) >= 13 and max(counts) <= 7
    assert min(ends) > -0.3 and max(ends) < 0.3


def test_half_a_unit_off_2_6_kg_begins_with_half_to_two_thirds_of_the_low_end() -> None:
    # 2.6 kg brought down by half a unit takes 3 to 22 g of citric acid, 18 in the middle (computed for this project).
    told = next_dose(POT, history_of([(0.0, 9.65)]), 9.15)
    scale = 2600.0 / POT.total_g
    low, middle, high = (grams * scale for grams in told.needed_g)
    assert 2.0 < low < 4.0 and 15.0 < middle < 20.0 and 19.0 < high < 24.0
    assert 0.5 * told.needed_g[0] <= told.dose_g <= 2.0 / 3.0 * told.needed_g[0]
    assert not told.by_pot and told.wait_min == 15 and math.isclose(told.g_per_ph[1], told.needed_g[1] / 0.5)


def test_two_readings_narrow_the_range() -> None:
    first = next_dose(POT, history_of([(0.0, 9.7)]), 9.2)
    second = next_dose(POT, history_of([(0.0, 9.7), (5.0, 9.5)]), 9.2)
    # 25 g for each unit by its own dose.
    assert second.by_pot and second.g_per_ph[0] < 25.0 < second.g_per_ph[2]
    assert second.needed_g[2] / second.needed_g[0] < 0.5 * first.needed_g[2] / first.needed_g[0]


def test_a_dose_that_was_not_seen_is_at_most_tripled() -> None:
    told = next_dose(POT, history_of([(0.0, 9.7), (0.5, 9.7)]), 9.2)
    assert math.isclose(told.dose_g, 1.5, rel_tol=1e-6)


def test_it_stops_at_the_target_and_waits_for_the_reading() -> None:
    assert next_dose(POT, history_of([(0.0, 10.2), (9.0, 9.58)]), 9.5).word == "done"
    waiting = dosing_history(
        [event(1, "ph read", ph=10.2), event(2, "neutraliser added", reagent="citric acid", grams=2)]
    )
    assert next_dose(POT, waiting, 9.5).word == "read"
    assert "quarter of an hour" in next_dose(POT, waiting, 9.5).meaning[0]
    assert next_dose(POT, history_of([(0.0, 9.6)])).word == "good"
    assert next_dose(POT, history_of([(0.0, 10.5)])).word == "dose"


def test_a_pot_that_does_not_answer_is_not_dosed_for_ever() -> None:
    readings = [(0.0, 10.2)]
    for _ in range(14):
        told = next_dose(POT, history_of(readings), 9.6)
        if told.word == "puzzle":
            break
        readings.append((told.dose_g, 10.2))
    assert told.word == "puzzle" and "check the probe" in told.meaning[0]
    assert len(readings) <= 12


def test_what_cannot_be_compared_begins_anew() -> None:
    before = [event(1, "ph read", ph=10.4), event(2, "neutraliser added", reagent="citric acid", grams=2.0)]
    for change in (
        event(3, "water added", grams=500.0),
        event(3, "added", what="scent", grams=5.0),
        event(3, "neutraliser added", reagent="mystery powder", grams=5.0),
    ):
        found = dosing_history([*before, change, event(4, "ph read", ph=10.0)])
        assert [reading.ph for reading in found.readings] == [10.0] and found.last_dose_mol == 0.0
    stronger = dosing_history([*before, event(3, "ph read", ph=10.0, sample_percent=10.0)])
    assert [reading.ph for reading in stronger.readings] == [10.0] and stronger.sample_percent == 10.0
    alike = dosing_history([*before, event(3, "ph read", ph=10.0, sample_percent=1.05)])
    assert len(alike.readings) == 2 and math.isclose(alike.last_dose_mol, 2.0 / CITRIC_G_PER_MOL_H)
    for left_out in ((3.0, 1.0, 25.0), (10.0, 100.0, 25.0), (10.0, 1.0, 95.0)):
        assert with_ph_reading(alike, *left_out) == alike


@pytest.mark.parametrize(
    ("target", "read", "reagent", "words"),
    [
        (10.0, 9.6, "citric acid", "end_ph is 10; the soap reads 9.6 already and acid only brings it down, so it must be "
         "from 9 to 9.5"),
        (8.5, 9.6, "citric acid", "end_ph is 8.5; below 9 this soap may turn cloudy or part, so it must be from 9 to 9.5"),
        (9.2, 9.8, "borax", "end_ph is 9.2; borax decahydrate takes no alkali below pH 9.4, so it must be from 9.4 to 9.7"),
        (9.2, 9.3, "borax", "end_ph is 9.2; borax decahydrate takes no alkali below pH 9.4, and the soap reads 9.3 "
         "already: leave it as it is"),
        (8.5, 9.0, "citric acid", "end_ph is 8.5; below 9 this soap may turn cloudy or part, and the soap reads 9 already"),
    ],
)  # fmt: skip
def test_a_refused_target_says_why_and_what_the_range_is(target: float, read: float, reagent: str, words: str) -> None:
    with pytest.raises(ValueError, match="end_ph") as caught:
        check_target(target, read, 9.0, find_neutraliser(reagent))
    assert str(caught.value).startswith(words) and "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: next_dose(POT, DosingHistory(()), 9.5), "readings are none"),
        (lambda: next_dose(POT, history_of([(0.0, 10.2)]), 9.5, "vinegar"), "not in the table; nearest"),
        (lambda: next_dose(POT, history_of([(0.0, 10.2)]), 9.5, "borax"), "only dosed once its warning has been read"),
        (lambda: next_dose(POT, history_of([(0.0, 10.2)]), 9.5, stock_strength=2.0), "stock_strength is 2; it must be"),
        (lambda: next_dose(POT, history_of([(0.0, 10.2)]), 10.5), "the soap reads 10.2 already"),
    ],
)
def test_bad_input_is_refused(make: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        make()


def test_borax_counts_as_what_it_takes_at_the_ph_in_hand() -> None:
    # A dose that complete reaction would make worth 0.30 g of KOH takes 0.18 g at pH 9.7 (computed for this project).
    borax = find_neutraliser("borax")
    assert math.isclose(0.30 * alkali_taken_per_mol(borax, 9.7) / borax.oh_mol, 0.18, abs_tol=0.01)
    told = next_dose(POT, history_of([(0.0, 10.2)]), 9.7, "borax", warning_read=True)
    mol = acid_between(POT, 10.2, 9.7)[1]
    assert math.isclose(told.needed_g[1], mol / alkali_taken_per_mol(borax, 9.7) * 381.37, rel_tol=1e-6)
    assert "toxic for reproduction" in told.cautions[0].words


def test_borax_brings_the_pot_where_it_was_asked_to() -> None:
    # The charge balance of the dosed pot, another way than the sum of capacities.
    alkaline = acid_between(POT, 10.2, neutral_reading(POT).middle)[1] * KOH_G_PER_MOL
    koh_g = alkaline
    before = ph(sample_solution(POT, koh_g))
    told = next_dose(POT, history_of([(0.0, before)]), 9.6, "borax", warning_read=True)
    after = ph(sample_solution(POT.with_reagent("borax", told.needed_g[1]), koh_g))
    assert math.isclose(after, 9.6, abs_tol=0.05)


@pytest.mark.parametrize("reagent", ["borax", "boric acid", "lactic acid", "citric acid"])
def test_doses_of_any_reagent_end_by_the_charge_balance_of_the_pot(reagent: str) -> None:
    koh_g, added, events, n = 4.0, 0.0, [], 0
    while n < 12:
        read = round(ph(sample_solution(POT.with_reagent(reagent, added), koh_g)), 2)
        events.append(event(2 * n, "ph read", ph=read))
        told = next_dose(POT.with_reagent(reagent, added), dosing_history(events), 9.7, reagent, warning_read=True)
        if told.word != "dose":
            break
        added, n = added + told.dose_g, n + 1
        events.append(event(2 * n - 1, "neutraliser added", reagent=reagent, grams=told.dose_g))
    assert told.word == "done" and n <= 5 and 9.6 < read <= 9.8


@pytest.fixture(scope="module")
def pitzer() -> PhreeqPython:
    return PhreeqPython(database="pitzer.dat")


def pitzer_ph(engine: PhreeqPython, borax: float, koh: float, kcl: float = 0.0) -> float:
    parts = {"Na": 2.0 * borax, "B": 4.0 * borax, "K": koh + kcl, "Cl": kcl}
    return float(
        engine.add_solution(
            {"units": "mol/kgw", "temp": 25.0, "pH": "9 charge"} | {n: m for n, m in parts.items() if m}
        ).pH
    )


@pytest.mark.parametrize("end_ph", [9.5, 9.7, 10.0, 10.5])
def test_the_alkali_that_borax_takes_agrees_with_phreeqc(pitzer: PhreeqPython, end_ph: float) -> None:
    # pitzer.dat has polyborates. KOH that 0.01 mol/kg of borax takes in 0.5 mol/kg of KCl on its way to the pH, beside
    # what the salt alone takes.
    def koh_to(borax: float) -> float:
        low, high = 0.0, 0.05
        for _ in range(40):
            middle = (low + high) / 2.0
            low, high = (middle, high) if pitzer_ph(pitzer, borax, middle, 0.5) < end_ph else (low, middle)
        return low

    taken = (koh_to(0.01) - koh_to(0.0)) / 0.01
    assert math.isclose(alkali_taken_per_mol(find_neutraliser("borax"), end_ph), taken, rel_tol=0.12)


def test_polyborates_do_not_tell_in_a_sample(pitzer: PhreeqPython) -> None:
    # Our equilibrium lacks them. At 0.05 mol/kg of borax that costs 0.09 in pH; in a 1 % sample of a pot with a tenth
    # of its weight in borax, 0.0026 mol/kg, it costs nothing that a probe sees.
    strong = pitzer_ph(pitzer, 0.05, 0.0) - ph(Solution(cations=0.1, boron=0.2))
    assert 0.05 < strong < 0.12
    sample = pitzer_ph(pitzer, 0.0026, 0.0) - ph(Solution(cations=0.0052, boron=0.0104))
    assert abs(sample) < 0.02


def test_citric_acid_gives_all_its_three_hydrogen_ions_where_soap_is_neutralised() -> None:
    # The charge balance that PHREEQC checks with citrate (tests/chemistry): 1 mol takes 3 of alkali above pH 8.
    for end_ph in (8.5, 9.5, 10.5):
        bare, with_acid = Solution(cations=0.02), Solution(cations=0.02, citrate=0.005)
        assert math.isclose((acid_at(bare, end_ph) - acid_at(with_acid, end_ph)) / 0.005, 3.0, abs_tol=0.02)


def test_the_range_of_targets_follows_the_soap() -> None:
    bounds = ph_bounds(neutral_reading(POT))
    with pytest.raises(
        ValueError, match=f"below {math.ceil(bounds.cloudy_below * 100) / 100:g} this soap may turn cloudy"
    ):
        next_dose(POT, history_of([(0.0, 10.2)]), 8.6)
