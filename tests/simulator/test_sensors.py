"""The virtual probes."""

import math
from random import Random
from statistics import fmean, stdev

import pytest

from monitor.simulator.sensors import Electrode, ElectrodeTraits, Fault, Thermocouple, ThermocoupleTraits, sample_ph


def test_readings_are_quantised_in_the_chips_steps_about_the_true_value() -> None:
    probe = Thermocouple(ThermocoupleTraits(noise_c=0.3, offset_c=1.0), Random(1))
    said = [probe.read(float(t), 90.0) for t in range(600)]
    numbers = [value for value in said if isinstance(value, float)]
    assert len(numbers) == 600
    assert all(value * 4.0 == round(value * 4.0) for value in numbers)
    assert fmean(numbers) == pytest.approx(91.0, abs=0.05)
    assert stdev(numbers) == pytest.approx(0.31, abs=0.04)


def test_the_probes_lag_is_first_order() -> None:
    probe = Thermocouple(ThermocoupleTraits(noise_c=0.0, step_c=1e-6, lag_s=10.0), Random(1))
    probe.read(0.0, 20.0)
    # After one lag, 1 - 1/e of the step, whether in one stride or in many.
    assert probe.read(10.0, 120.0) == pytest.approx(20.0 + 100.0 * (1.0 - math.exp(-1.0)), abs=1e-3)
    for t in range(11, 21):
        last = probe.read(float(t), 120.0)
    assert last == pytest.approx(20.0 + 100.0 * (1.0 - math.exp(-2.0)), abs=1e-3)


def test_a_fault_is_a_text_and_ends() -> None:
    probe = Thermocouple(ThermocoupleTraits(), Random(1), [Fault(5.0, 8.0)])
    said = [probe.read(float(t), 50.0) for t in range(12)]
    assert [isinstance(value, str) for value in said] == [5 <= t < 8 for t in range(12)]
    assert said[5] == "open circuit"


def test_electrode_settles_to_its_sample_and_back() -> None:
    traits = ElectrodeTraits(offset_v=0.0, slope=1.0, noise_v=0.0, drift_ph=0.0, settle_s=12.0)
    electrode = Electrode(traits, Random(1))
    assert electrode.read(0.0, None) == pytest.approx(0.05916 * (7.0 - 4.6), abs=1e-4)
    # Nernst: 59.159 mV a pH at 25 degC (ln 10 R T / F); after 10 settling times next to nothing is missing.
    assert electrode.read(120.0, 10.0) == pytest.approx(-3 * 0.059159, abs=2e-4)
    assert electrode.read(240.0, None) == pytest.approx(0.05916 * 2.4, abs=2e-4)


def test_electrode_drifts_while_idle() -> None:
    electrode = Electrode(ElectrodeTraits(noise_v=0.0), Random(2))
    said = [electrode.read(float(t), None) for t in range(0, 14_400, 60)]
    assert 0.05 * 0.059 < stdev(said) < 0.4 * 0.059


# Common practice, no source: a 1 % sample of finished soap reads about 9.8 to 10.5; 0.001 mol/L of free KOH is pH 11.
def test_the_ph_of_a_sample_follows_its_dilution() -> None:
    assert 9.8 <= sample_ph(0.0, 1.0) <= 10.2
    assert sample_ph(0.001 * 56.1056 / 10.0, 1.0) == pytest.approx(11.0, abs=0.04)
