"""A stuck probe: recognised by its own noise where that shows, never guessed where it does not."""

import math

import numpy as np
import pytest
from scipy.special import erf

from tests.alarms.pots import START, STEP_C, answered, paste_of, standing, steady, stepped

FROZEN = {"paste probe frozen": "unacknowledged"}


@pytest.mark.parametrize(("every_s", "noise_c"), [(1.0, 0.2), (10.0, 0.2), (10.0, 0.15), (10.0, 0.4), (2.0, 0.3)])
def test_stuck_when_chance_no_longer_explains_it(every_s: float, noise_c: float) -> None:
    at, value = steady(12_000.0, every_s, noise_c)
    begins = START + 8000.0
    place = int(np.searchsorted(at, begins))
    history = paste_of(at, np.where(at >= begins, value[place], value))
    # A level in the middle of a step repeats with this chance (normal distribution).
    repeats = float(erf(STEP_C / (2.0 * math.sqrt(2.0) * noise_c)))
    unlikely_s = every_s * math.log(1e-9) / math.log(repeats)
    assert standing(history, begins + min(50.0, 0.6 * unlikely_s)) == {}
    assert standing(history, begins + max(60.0, unlikely_s) + 60.0) == FROZEN


@pytest.mark.parametrize("noise_c", [0.14, 0.2])
def test_the_quietest_quarter_does_not_make_it_late(noise_c: float) -> None:
    every_s, repeats = 10.0, float(erf(STEP_C / (2.0 * math.sqrt(2.0) * noise_c)))
    unlikely = math.log(1e-9) / math.log(repeats)
    needed = []
    for seed in range(30):
        at, value = steady(12_000.0, every_s, noise_c, seed)
        value[800:] = value[800]
        told = (
            n
            for n in range(int(0.5 * unlikely), 400)
            if standing(paste_of(at[: 800 + n], value[: 800 + n]), at[800 + n - 1])
        )
        needed.append(next(told))
    # As a probe whose noise is known needs, neither more nor less but for what 8000 s of readings leave open.
    assert float(np.median(needed)) == pytest.approx(unlikely, rel=0.1)


@pytest.mark.parametrize("level_c", [94.0, 94.1, 94.125])
def test_noise_below_half_a_step_says_nothing(level_c: float) -> None:
    # It flips between two values for two hours, or stays on one; then the level creeps to the middle of a step.
    at = START + np.arange(0.0, 12_000.0)
    level = np.clip(level_c + (94.25 - level_c) * (at - START - 7200.0) / 600.0, min(level_c, 94.25), 94.25)
    history = paste_of(at, stepped(level + np.random.default_rng(2).normal(0.0, 0.03, len(at))))
    for now in np.arange(START + 7200.0, START + 8400.0, 60.0).tolist():
        assert standing(history, now) == {}


def test_a_curve_that_flattens_without_noise_is_not_stuck() -> None:
    at = START + np.arange(0.0, 20_000.0, 10.0)
    for lag_s in (600.0, 1200.0, 2400.0):
        history = paste_of(at, stepped(95.0 - 40.0 * np.exp(-(at - START) / lag_s)))
        for now in np.arange(START + 600.0, START + 20_000.0, 300.0).tolist():
            assert standing(history, now) == {}


def test_a_curve_that_stops_dead_is_stuck() -> None:
    at = START + np.arange(0.0, 4000.0, 10.0)
    rising = stepped(20.0 + (at - START) / 60.0)
    stopped = np.where(at >= START + 2400.0, rising[240], rising)
    assert standing(paste_of(at, rising), START + 2800.0) == {}
    assert standing(paste_of(at, stopped), START + 2800.0) == FROZEN


def test_a_curve_that_was_thrown_down_did_not_stop_dead() -> None:
    at = START + np.arange(0.0, 9000.0, 10.0)
    # Two values by turns, then thirty degrees lower, and two minutes after that one value for a minute.
    value = np.where(np.arange(len(at)) % 2, 92.0, 91.75) - np.where(at >= START + 8000.0, 30.0, 0.0)
    value[(at >= START + 8130.0) & (at < START + 8230.0)] = 62.0
    for now in np.arange(START + 8000.0, START + 8600.0, 10.0).tolist():
        assert "paste probe frozen" not in standing(paste_of(at, value), now)


def test_stuck_twice_raises_two_alarms() -> None:
    at, value = steady(12_000.0)
    held = ((at >= START + 4000.0) & (at < START + 7000.0)) | (at >= START + 8000.0)
    history = answered(
        paste_of(at, np.where(held, 94.25, value)), "acknowledged", 5000.0, condition="paste probe frozen"
    )
    assert standing(history, START + 5001.0) == {"paste probe frozen": "acknowledged"}
    assert standing(history, START + 7500.0) == {}
    assert standing(history, START + 8100.0) == FROZEN


def test_a_probe_without_steps_is_stuck_at_its_second_minute() -> None:
    at = START + np.arange(0.0, 9000.0)
    value = 94.0 + np.random.default_rng(3).normal(0.0, 0.05, len(at))
    history = paste_of(at, np.where(at >= START + 8000.0, value[8000], value))
    assert standing(history, START + 8059.0) == {}
    assert standing(history, START + 8061.0) == FROZEN


def test_a_spike_is_no_noise_and_silence_is_no_run() -> None:
    at, value = steady(8000.0, 10.0, 0.02)
    value[300] = 1024.0
    history = paste_of(at, value)
    assert "paste probe frozen" not in standing(history, START + 4500.0)
    at, value = steady(4000.0, 1.0, 0.4)
    ends_on_two = paste_of(at, np.where(at >= START + 3990.0, 94.0, value))
    assert set(standing(ends_on_two, START + 4080.0)) == {"no data"}
