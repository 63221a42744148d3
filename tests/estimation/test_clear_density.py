"""The density of the clear time that an estimate carries: the distribution that its three points are read from."""

import numpy as np
import pytest

from monitor.estimation import ClearDensity, Estimate
from tests.estimation.test_estimator import START, cook, event, stirs, think


def by(estimate: Estimate, moment: float) -> float:
    """The chance of clear by a moment, out of the density."""
    density = estimate.clear_density
    return float(np.interp(moment, density.edges, np.concatenate([[0.0], np.cumsum(density.probability)])))


@pytest.mark.parametrize("minute", [20, 120, 200])
def test_the_density_is_that_of_the_three_points(minute: int) -> None:
    estimate = think(cook(minute, stirs(35, minute)), minute)
    edges = estimate.clear_density.edges
    assert len(edges) == len(estimate.clear_density.probability) + 1
    assert set(np.diff(edges)) == {300.0} and edges[0] % 300.0 == 0.0
    for moment, share in zip(estimate.clear_at, (0.1, 0.5, 0.9), strict=True):
        assert moment is not None
        # Within five minutes the distribution is not straight.
        assert by(estimate, moment) == pytest.approx(share, abs=0.02)
    assert 0.98 <= sum(estimate.clear_density.probability) <= 1.0


def test_a_hazy_check_moves_the_density_later() -> None:
    before = think(cook(180, stirs(35, 180)), 180)
    after = think(cook(180, [*stirs(35, 180), event("checked", 178, result="hazy")]), 180)
    later = START + 60.0 * 190
    assert by(after, later) < by(before, later)


def test_nothing_is_expected_before_the_start_after_clear_or_in_the_cold() -> None:
    clear = [*stirs(35, 200), event("checked", 200, result="clear")]
    for estimate in (
        think(cook(60), -30),
        think(cook(210, clear), 210),
        think(cook(210, [*stirs(35, 200), event("finished", 205)]), 210),
        think(cook(300, [event("heat off", 60)], plateau_c=22.0, shift_c=-20.0), 300),
    ):
        assert estimate.clear_density == ClearDensity()


def test_what_lies_more_than_a_day_ahead_is_left_out() -> None:
    estimate = think(cook(120, plateau_c=68.0), 120)
    edges = estimate.clear_density.edges
    assert estimate.clear_at[1] is not None
    assert edges[-1] <= estimate.t + 86_400.0 + 300.0
