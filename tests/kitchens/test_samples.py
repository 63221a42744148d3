"""The virtual maker logs right facts: the word of a check, the stage of the paste, a titrated sample; prices and slopes."""

import math
import statistics
from dataclasses import replace

import numpy as np
import pytest

from monitor.estimation.scheduling import Costs
from monitor.model import Alkali, Batch, Oil, make_event
from monitor.model.event_kinds import CHECK_RESULTS, PASTE_STAGES
from tests.kitchens.composition import Composition, draw_composition, short_chain_share
from tests.kitchens.cooking import CookRun, cook
from tests.kitchens.judging import Job, judged
from tests.kitchens.kitchen import CookPlan, Kitchen, draw_batch, draw_person
from tests.kitchens.rules import FixedRule, best_plan
from tests.kitchens.samples import check_result, free_alkali_mol_per_g, paste_stage, titration
from tests.kitchens.stranger import stranger
from tests.kitchens.trouble import Kind

# 1000 g of an oil that takes 190 mg/g, 3 % more KOH than that in flakes of 90 %, 800 g of water.
USUAL = Batch("", (Oil("olive", 1000.0, 190.0),), Alkali("KOH", 0.9, 0.03), 800.0)


def with_habits(place: Kitchen, **habits: bool | int) -> Kitchen:
    def plan(index: int) -> CookPlan:
        drawn = place.plan(index)
        return replace(drawn, person=replace(drawn.person, **habits))  # type: ignore[arg-type]

    return Kitchen(place.name, plan)


class Notebook(FixedRule):
    """Keeps what was logged; its first check comes early, so that some are not clear."""

    def __init__(self) -> None:
        super().__init__(first_min=60.0, every_min=10.0)
        self.logged: list[tuple[float, str, dict[str, str | float]]] = []

    def event(self, at: float, kind: str, fields: dict[str, str | float]) -> None:
        super().event(at, kind, fields)
        self.logged.append((at, kind, fields))


def cooked(seed: int, **habits: bool | int) -> tuple[CookRun, Notebook]:
    notebook = Notebook()
    return cook(with_habits(stranger(seed), **habits), 0, notebook), notebook


def test_free_alkali_is_excess_and_residual_times_the_need_per_gram() -> None:
    # By hand: need 190 g = 3.3865 mol; paste 1000 + 190 * 1.03 / 0.9 + 800 = 2017.4 g.
    per_g = free_alkali_mol_per_g(USUAL, 0.03, 0.01)
    assert per_g == pytest.approx(0.04 * 3.3865 / 2017.4, rel=1e-4)
    assert free_alkali_mol_per_g(USUAL, -0.02, 0.01) == 0.0


def test_a_titration_has_the_errors_of_burette_and_end_point() -> None:
    rng = np.random.default_rng(1)
    true_ml = 1e4 * free_alkali_mol_per_g(USUAL, 0.03, 0.05)
    read = [float(titration(USUAL, 0.03, 0.05, rng)["acid_ml"]) for _ in range(4000)]
    assert statistics.fmean(read) == pytest.approx(true_ml, abs=0.005)
    assert statistics.stdev(read) == pytest.approx(math.hypot(0.05, 0.02 * true_ml), rel=0.05)


def test_nearly_clear_lies_between_clear_and_hazy_and_only_some_say_it() -> None:
    person = replace(draw_person(np.random.default_rng(3)), clear_below=0.01, hazy_below=0.04)
    assert [check_result(person, seems) for seems in (0.009, 0.019, 0.03, 0.05)] == ["clear", "hazy", "hazy", "cloudy"]
    knows = replace(person, says_nearly_clear=True)
    assert [check_result(knows, seems) for seems in (0.009, 0.019, 0.021)] == ["clear", "nearly clear", "hazy"]


def test_stages_follow_the_residual() -> None:
    rng = np.random.default_rng(2)
    ranks = [
        statistics.fmean(PASTE_STAGES.index(paste_stage(residual, 0.0, rng)) for _ in range(300))
        for residual in (0.9, 0.35, 0.12, 0.01)
    ]
    assert ranks == sorted(ranks)
    assert ranks[0] < 0.4
    assert ranks[-1] > 2.9


def test_what_a_maker_of_every_habit_logs_can_be_stored() -> None:
    run, notebook = cooked(503, says_nearly_clear=True, tells_stages=True, titrations=2)
    kinds = [kind for _, kind, _ in notebook.logged]
    assert kinds.count("titrated") == 2
    assert "looked" in kinds
    for at, kind, fields in notebook.logged:
        make_event(f"uid-{at:.0f}", kind, at, at, fields)
    words = [fields["result"] for _, kind, fields in notebook.logged if kind == "checked"]
    assert words[-1] == "clear"
    assert set(words) <= set(CHECK_RESULTS)
    at_s = [at - run.lid_on for at, kind, _ in notebook.logged if kind == "titrated"]
    assert at_s == [pytest.approx(60 * 60.0, abs=180.0), pytest.approx(105 * 60.0, abs=180.0)]


def test_the_acid_falls_from_sample_to_sample() -> None:
    _, notebook = cooked(504, titrations=3)
    acid_ml = [float(fields["acid_ml"]) for _, kind, fields in notebook.logged if kind == "titrated"]
    assert acid_ml == sorted(acid_ml, reverse=True)
    assert acid_ml[0] > 1.2 * acid_ml[-1]


def test_a_word_and_a_look_change_nothing_in_the_pot() -> None:
    silent, talking = cooked(505)[0], cooked(505, says_nearly_clear=True, tells_stages=True)[0]
    assert talking.true_clear == silent.true_clear
    assert talking.checks == silent.checks


def test_short_chains_soap_sooner_and_the_usual_batch_keeps_its_pace() -> None:
    def batch(coconut_g: float, water_g: float) -> Batch:
        oils = (Oil("rapeseed", 1000.0 - coconut_g, 189.0), Oil("coconut", coconut_g, 256.0))
        return Batch("", oils, Alkali("KOH", 0.9, 0.03), water_g)

    slopes = Composition(short_chain_slope=-0.3, water_slope=0.2)
    assert short_chain_share(batch(500.0, 900.0)) == pytest.approx(0.395)
    assert slopes.pace(batch(0.2 / 0.79 * 1000.0, 925.0)) == pytest.approx(1.0)
    assert math.log(slopes.pace(batch(800.0, 925.0)) / slopes.pace(batch(0.0, 925.0))) == pytest.approx(0.3 * 0.632)
    assert slopes.pace(batch(0.0, 1100.0)) < slopes.pace(batch(0.0, 800.0))
    drawn = [draw_composition(np.random.default_rng(seed)) for seed in range(200)]
    assert all(one.short_chain_slope <= 0.0 for one in drawn)
    assert statistics.fmean(one.short_chain_slope for one in drawn) == pytest.approx(-0.31, abs=0.04)
    assert len({short_chain_share(draw_batch(np.random.default_rng(seed), 0)) > 0.1 for seed in range(20)}) == 2


def test_a_cheaper_minute_over_makes_the_oracle_look_later() -> None:
    dear, cheap = (best_plan(0.12, Costs(check_min=15.0, overcook_per_min=price)) for price in (1.0, 0.25))
    assert cheap[0] > dear[0]


def test_judged_cooks_are_of_the_kind_that_was_asked_for() -> None:
    job = Job(506, strange=True, cool=True, turned_down=True)
    place = job.kitchen()
    plan = place.plan(0)
    assert plan.plateau_c < 86.0
    assert [trouble.kind for trouble in plan.troubles] == [Kind.TURNED_DOWN]
    run = cook(place, 0, FixedRule())
    figures = judged(run, plan, job.costs)
    assert (figures.cool, figures.turned_down, figures.plain) == (True, True, False)
    assert figures.cost_min == 15.0 * run.checks + 0.25 * run.over_min
    assert figures.first_chance is None
    assert figures.first_clear == (run.checks == 1)
