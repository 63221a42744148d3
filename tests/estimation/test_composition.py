"""How the need follows oils and water: composition of a batch, and slopes that a kitchen learns."""

import math

import numpy as np
import pytest

from monitor.estimation import CookEvidence, fit_kitchen
from monitor.estimation.composition import FIRST_SLOPES, Composition, composition_of
from monitor.estimation.excess_grid import excess_grid
from monitor.estimation.prior import EA, LN_NEED, MIXING_FLOORS
from monitor.model import Alkali, Batch, Oil

KOH = Alkali("KOH", 0.9, 0.03)


def test_coconut_is_all_but_short_and_rapeseed_not_at_all() -> None:
    """Source: Codex CXS 210, table 1: coconut has 78 to 90 % of acids up to C14, rapeseed well under 1 %."""
    coconut = composition_of(Batch("", (Oil("coconut", 100.0, 257.0),), KOH, 90.0))
    rapeseed = composition_of(Batch("", (Oil("rapeseed", 100.0, 189.0),), KOH, 180.0))
    assert coconut is not None and rapeseed is not None
    assert coconut.short_share == pytest.approx(0.84 - 0.15, abs=0.06) and abs(coconut.water_ratio) < 1e-9
    assert rapeseed.short_share == pytest.approx(-0.15, abs=0.01) and rapeseed.water_ratio == pytest.approx(0.9)


def test_no_sheet_and_unknown_oils_move_nothing() -> None:
    assert composition_of(None) is None
    strange = composition_of(Batch("", (Oil("moon oil", 100.0, 190.0),), KOH, 90.0))
    assert strange is not None and strange.short_share == 0.0


def test_the_update_is_that_of_a_linear_regression() -> None:
    """Source: the closed form of Bayesian linear regression with known noise (normal prior, normal likelihood)."""
    rng = np.random.default_rng(3)
    rows = rng.normal(0.0, 0.3, (12, 2))
    noise_sd = 0.1
    seen = rows @ np.array([-0.4, 0.1]) + rng.normal(0.0, noise_sd, 12)
    slopes = FIRST_SLOPES
    for row, value in zip(rows, seen, strict=True):
        composition = Composition(*row)
        mean, sd = slopes.shift(composition)
        # What is expected of the cook, and what is left after it was measured exactly.
        slopes = slopes.learned(composition, (mean, sd**2 + noise_sd**2), (value, 0.0))
    precision = np.linalg.inv(FIRST_SLOPES.covariance) + rows.T @ rows / noise_sd**2
    expected = np.linalg.solve(
        precision, np.linalg.inv(FIRST_SLOPES.covariance) @ FIRST_SLOPES.mean + rows.T @ seen / noise_sd**2
    )
    assert slopes.mean == pytest.approx(expected, abs=1e-9)
    assert slopes.covariance == pytest.approx(np.linalg.inv(precision), abs=1e-9)


def evidence(ln_need: float, short_share: float) -> CookEvidence:
    """A cook whose need is known to a few per cent."""
    likelihood = np.exp(-0.5 * ((LN_NEED - ln_need) / 0.06) ** 2)
    shape = (len(LN_NEED), len(EA), len(MIXING_FLOORS), 4)
    return CookEvidence(
        np.broadcast_to(likelihood[:, None, None, None], shape),
        excess_grid(0.03, 0.0),
        Composition(short_share, 0.0),
        1,
        None,
    )


def test_a_kitchen_learns_that_coconut_is_quicker() -> None:
    usual = math.log(9600.0)
    cooks = [evidence(usual - 0.5 * share, share) for share in (0.0, 0.6, -0.1, 0.7, 0.1, 0.5)]
    slopes = fit_kitchen(cooks).slopes
    assert slopes.mean[0] < FIRST_SLOPES.mean[0] - 0.1
    assert slopes.covariance[0, 0] < 0.6 * FIRST_SLOPES.covariance[0, 0]
    alike = fit_kitchen([evidence(usual, share) for share in (0.0, 0.6, -0.1, 0.7, 0.1, 0.5)]).slopes
    assert alike.mean[0] > FIRST_SLOPES.mean[0] + 0.05
