"""The truth that the time-loss report is compared with: a cause costs what simulating the cook without it saves."""

import numpy as np
import pytest

from tests.analysis.ablation import _along, _cooked, _curve, costs, main_cause, shares
from tests.analysis.causes import Cause, cooked, plain, troubled
from tests.kitchens.kitchen import kitchen


def test_a_cook_held_to_its_own_curve_takes_the_same_time() -> None:
    plan = plain(kitchen(2001).plan(0), False)
    _, run = cooked(plan, 0)
    looks = (run.ended - 900.0, run.ended)
    curve = _curve(plan, 0, looks)
    assert _cooked(_along(plan, curve.level_c), 0, looks).total_s == curve.total_s
    assert _cooked(_along(plan, curve.level_c + 2.0), 0, looks).total_s < curve.total_s
    assert _cooked(_along(plan, curve.warmed()), 0, looks).total_s < curve.total_s


@pytest.mark.parametrize("cause", [Cause.LID_OFF, Cause.LOW_PLATEAU])
def test_a_cause_costs_the_time_saved_without_it(cause: Cause) -> None:
    plan = plain(kitchen(2001).plan(0), False)
    _, calm = cooked(plan, 0)
    wrong, late_s = troubled(plan, cause, np.random.default_rng(5))
    _, run = cooked(wrong, 0, late_s)
    before, after = costs(plan, 0, calm, 93.0), costs(wrong, 0, run, 93.0)
    more = {one: after.alone[one] - before.alone[one] for one in Cause}
    assert main_cause(more) is cause
    assert main_cause({one: after.shared[one] - before.shared[one] for one in Cause}) is cause
    # A plateau is put right in the temperature alone, a trouble in the whole kitchen.
    assert more[cause] == pytest.approx(run.total_s - calm.total_s, rel=0.25)


def test_shapley_shares_add_up_and_split_joint_savings_equally() -> None:
    # Three causes: one saves 10 s alone, two others only together 6 s, and all three 3 s more.
    def saved_s(right: frozenset[Cause]) -> float:
        both = {Cause.LATE_STIRS, Cause.LOW_PLATEAU} <= right
        warm = Cause.SLOW_WARM_UP in right
        return 10.0 * warm + 6.0 * both + 3.0 * (both and warm)

    shared = shares([Cause.SLOW_WARM_UP, Cause.LATE_STIRS, Cause.LOW_PLATEAU], saved_s)
    assert shared == pytest.approx({Cause.SLOW_WARM_UP: 11.0, Cause.LATE_STIRS: 4.0, Cause.LOW_PLATEAU: 4.0})
