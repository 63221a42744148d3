"""When a reading has settled, and what is said when it will not."""

import math
from random import Random

import pytest

from monitor.probes.ph import nernst_v
from monitor.probes.stability import StabilityDetector, StabilityState, Stable, TimedOut, Unsettled


def detector() -> StabilityDetector:
    return StabilityDetector(0.02, "pH", per=1 / float(nernst_v(25.0)))


def feed(detector: StabilityDetector, value: object, until_s: int = 400) -> tuple[int, StabilityState]:
    """Seconds and verdict when it is through; value: function of seconds to volts."""
    for second in range(until_s):
        state = detector.add(1000.0 + second, value(second))  # type: ignore[operator]
        if not isinstance(state, Unsettled):
            return second, state
    return until_s, state


def test_a_settling_probe_is_stable_at_its_final_value() -> None:
    chance = Random(3)
    second, state = feed(detector(), lambda s: -0.17 + 0.1 * math.exp(-s / 12) + chance.gauss(0, 0.0002))
    assert isinstance(state, Stable) and 40 <= second <= 120
    # Half of what it may still change.
    assert state.value == pytest.approx(-0.17, abs=0.01 * 0.0592) and state.scatter < 0.0004


def test_a_constant_signal_is_stable_after_half_a_minute() -> None:
    chance = Random(4)
    second, state = feed(detector(), lambda s: 0.006 + chance.gauss(0, 0.0002))
    assert isinstance(state, Stable) and second == 30


def test_a_drift_above_the_limit_is_never_stable() -> None:
    second, state = feed(detector(), lambda s: 0.006 + 0.025 * 0.0592 / 30 * s)
    assert isinstance(state, TimedOut) and second == 240
    assert "still drifts by 0.025 pH in 30 s" in state.why


def test_a_drift_below_the_limit_is_stable() -> None:
    assert isinstance(feed(detector(), lambda s: 0.006 + 0.015 * 0.0592 / 30 * s)[1], Stable)


def test_noise_is_distinguished_from_drift() -> None:
    chance = Random(5)
    state = feed(detector(), lambda s: 0.006 + chance.gauss(0, 0.004))[1]
    assert isinstance(state, TimedOut) and "jumps about" in state.why


def test_a_reading_of_exactly_zero_is_reported_as_unplugged() -> None:
    state = feed(detector(), lambda s: 0.0)[1]
    assert isinstance(state, TimedOut) and "exactly 0" in state.why


def test_ten_seconds_of_faults_end_the_reading_and_a_single_fault_does_not() -> None:
    one = detector()
    for second in range(10):
        assert isinstance(one.add(second, None, "open circuit"), Unsettled)
    state = one.add(10, None, "open circuit")
    assert isinstance(state, TimedOut) and "“open circuit”" in state.why
    other = detector()
    assert isinstance(other.add(0, math.nan), Unsettled)
    assert isinstance(other.add(1, 0.1), Unsettled)


def test_too_few_readings_are_reported() -> None:
    slow = detector()
    state = [slow.add(60.0 * minute, 0.1) for minute in range(5)][-1]
    assert isinstance(state, TimedOut) and "Too few readings" in state.why


def test_invalid_limits_are_refused() -> None:
    with pytest.raises(ValueError, match="timeout longer"):
        StabilityDetector(0.02, "pH", window_s=30, timeout_s=20)
