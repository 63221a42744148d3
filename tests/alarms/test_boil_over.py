"""Near boiling over: never from a sound paste by a probe that reads its tolerance high, and soon from a hot one.

That a sound paste stays truly under 99 degC is judgement; the tolerance of class 2 wire is that of IEC 60584-1.
"""

from dataclasses import replace

import numpy as np
import pytest

from monitor.model import Floats, History, make_event
from tests.alarms.pots import START, paste_of, standing, stepped

NEAR = {"near boil-over": "unacknowledged"}
CLASS_2_C = 2.5
CHECKED_C = 0.5


def pot(elapsed_s: Floats, level_c: Floats, off_c: float, tolerance_c: float | None = None) -> History:
    """A paste truly at this level, read every so often by a probe that is this far off."""
    noise = np.random.default_rng(5).normal(0.0, 0.2, len(elapsed_s))
    history = paste_of(START + elapsed_s, stepped(level_c + off_c + noise))
    stated = replace(history.series["paste"], tolerance_c=tolerance_c)
    return replace(history, series={"paste": stated})


def seen(history: History, from_s: float, to_s: float) -> list[float]:
    """When within these seconds anything stands, asked every half minute."""
    return [now - START for now in np.arange(START + from_s, START + to_s, 30.0).tolist() if standing(history, now)]


@pytest.mark.parametrize("every_s", [1.0, 10.0])
@pytest.mark.parametrize(("off_c", "tolerance_c"), [(CLASS_2_C, None), (3.2, 3.2), (CHECKED_C, CHECKED_C)])
def test_a_sound_paste_seems_hot_by_its_probes_tolerance(
    every_s: float, off_c: float, tolerance_c: float | None
) -> None:
    elapsed_s = np.arange(0.0, 9000.0, every_s)
    # The reaction lifts it by a degree a minute to where its cooker keeps it, which ends at once.
    level_c = np.minimum(80.0 + elapsed_s / 60.0, 98.4)
    assert seen(pot(elapsed_s, level_c, off_c, tolerance_c), 300.0, 9000.0) == []


def test_a_probe_that_was_checked_tells_a_smaller_excess() -> None:
    elapsed_s = np.arange(0.0, 6000.0, 10.0)
    level_c = np.where(elapsed_s < 4000.0, 98.0, np.minimum(98.0 + (elapsed_s - 4000.0) / 120.0, 100.2))
    assert seen(pot(elapsed_s, level_c, 0.0), 600.0, 6000.0) == []
    moments = seen(pot(elapsed_s, level_c, 0.0, CHECKED_C), 600.0, 6000.0)
    # It passes 99.5 degC 180 s after it began to climb.
    assert 4100.0 <= moments[0] <= 4240.0 and moments[-1] > 5900.0


@pytest.mark.parametrize("degrees_a_minute", [0.15, 0.3, 0.5, 1.0, 2.0])
def test_a_settled_paste_that_climbs_to_its_boil(degrees_a_minute: float) -> None:
    elapsed_s = np.arange(0.0, 12_500.0, 10.0)
    climbed_c = degrees_a_minute * (elapsed_s - 8000.0) / 60.0
    history = pot(elapsed_s, np.clip(90.0 + climbed_c, 90.0, 100.8), 0.0)
    # The mean of a minute passes 99 degC half a minute after the paste.
    visible_s = 8030.0 + 9.0 * 60.0 / degrees_a_minute
    assert seen(history, 600.0, visible_s - 90.0) == []
    assert standing(history, START + visible_s + 60.0) == NEAR


def test_it_stands_as_long_as_the_paste_may_be_near_its_boil() -> None:
    elapsed_s = np.arange(0.0, 21_000.0, 10.0)
    level_c = np.interp(elapsed_s, [0.0, 8000.0, 9000.0, 15_000.0, 15_600.0, 21_000.0], [90, 90, 100.5, 100.5, 94, 94])
    history = pot(elapsed_s, level_c, 0.0)
    # An hour and a half on, what the paste was before it climbed is long past.
    assert standing(history, START + 14_900.0) == NEAR
    assert standing(history, START + 15_900.0)["near boil-over"] == "returned unacknowledged"


@pytest.mark.parametrize("kind", ["lye in", "thick trace", "note"])
def test_a_paste_near_its_boil_is_told_before_the_lid_was_logged(kind: str) -> None:
    """A danger is one whatever was logged; nothing else is told of a pot whose cook has not begun."""
    elapsed_s = np.arange(0.0, 1500.0, 10.0)
    whole = pot(elapsed_s, np.minimum(70.0 + elapsed_s / 30.0, 103.0), 0.0)
    fields = {"text": "the oils are warm"} if kind == "note" else {}
    early = replace(whole, logged=(make_event("first", kind, START, START, fields),))
    assert standing(early, START + 300.0) == {}
    assert standing(early, START + 1300.0) == NEAR
