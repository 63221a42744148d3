"""The excess and its spread: one account for bench, estimate and lessons."""

import math

import numpy as np
import pytest
from scipy import stats

from monitor.chemistry import as_weighed, batch_excess, batch_portions, portion, variance_about_typical
from monitor.formulation import charge_of
from monitor.model import Alkali, Batch, Event, Oil, make_event

OILS = (Oil("rapeseed", 450.0, 187.5), Oil("coconut", 150.0, 256.5))


def batch(grams: float | None = None, excess: float = 0.03, naoh_share: float = 0.0) -> Batch:
    return Batch("Test", OILS, Alkali("KOH", 0.9, excess, naoh_share=naoh_share, grams=grams), 540.0)


def weighed(what: str, grams: float, known: float = 10.0) -> Event:
    return make_event(f"{what} {grams}", "weighed", known, known, {"what": what, "grams": grams})


@pytest.mark.parametrize("grams", [None, 100.0, 138.0, 150.0])
@pytest.mark.parametrize("naoh_share", [0.0, 0.1])
def test_bench_and_estimate_have_the_same_excess(grams: float | None, naoh_share: float) -> None:
    sheet = batch(grams, naoh_share=naoh_share)
    assert charge_of(sheet).excess == batch_excess(sheet)


def test_what_was_weighed_counts_and_not_what_was_planned() -> None:
    # 122.85 g of KOH are needed, M(KOH) cancels: 450 x 187.5 + 150 x 256.5 mg.
    excess = batch_excess(batch(grams=130.0))
    assert excess is not None
    assert excess.taken == pytest.approx(130.0 * 0.9 / 122.85 - 1.0)


def test_a_logged_weighing_counts_unless_the_sheet_was_planned_anew() -> None:
    events = [weighed("potassium hydroxide", 130.0), weighed("coconut", 160.0)]
    found = as_weighed(batch(), events)
    assert (found.alkali.grams, found.oils[1].grams, found.oils[0].grams) == (130.0, 160.0, 450.0)
    assert as_weighed(batch(), events, sheet_known=20.0) == batch()


def test_the_spread_is_what_a_simulation_of_every_weighing_gives() -> None:
    """Source: scipy.stats draws of the triangular and uniform distributions that JCGM 100:2008, 4.3, has for them."""
    sheet = batch()
    excess = batch_excess(sheet)
    assert excess is not None
    rng = np.random.default_rng(4)
    need = np.zeros(40_000)
    for each in batch_portions(sheet):
        width = each.saponification_high - each.saponification_low
        mode = (each.saponification - each.saponification_low) / width
        values = stats.triang.rvs(mode, each.saponification_low, width, size=len(need), random_state=rng)
        need += (each.grams + rng.uniform(-0.5, 0.5, len(need))) * values / 1000.0
    flakes = 122.85 * 1.03 / 0.9 + rng.uniform(-0.5, 0.5, len(need))
    true = flakes * (0.9 + rng.uniform(-0.005, 0.005, len(need))) / need - 1.0
    assert math.sqrt(float(np.mean((true - 0.03) ** 2))) == pytest.approx(excess.sd, rel=0.06)
    inside = float(np.mean((true > excess.likely_low) & (true < excess.likely_high)))
    assert 0.74 < inside < 0.86


@pytest.mark.parametrize(("low", "typical", "high"), [(180.0, 190.0, 193.0), (0.0, 0.0, 1.0), (2.0, 5.0, 5.0)])
def test_the_variance_about_the_mode_is_that_of_the_triangle(low: float, typical: float, high: float) -> None:
    """Source: scipy.stats.triang, mean and variance; about the mode adds the square of the distance."""
    width = high - low
    triangle = stats.triang((typical - low) / width, low, width)
    expected = float(triangle.var()) + (float(triangle.mean()) - typical) ** 2
    assert variance_about_typical(low, typical, high) == pytest.approx(expected)


def test_an_oil_that_the_table_lacks_has_a_wide_range_and_nothing_raises() -> None:
    strange = Batch("", (Oil("moon oil", 100.0, 190.0),), Alkali("KOH", 0.9, 0.0), 90.0)
    excess = batch_excess(strange)
    assert excess is not None and excess.sd > 0.005
    assert batch_excess(Batch("", (), Alkali("KOH", 0.9, 0.0), 90.0)) is None
    assert portion("rapeseed", 100).saponification_low < portion("rapeseed", 100).saponification
