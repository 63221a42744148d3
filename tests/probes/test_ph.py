"""Electrode, buffers and calibration, against tables and equations from outside."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.probes.buffers import Buffer, all_buffers, find_buffer
from monitor.probes.ph import ideal_v, nernst_v, sample_refusal
from monitor.probes.ph_calibration import BufferPoint, age_words, electrode_health, ph_map, trend_words
from tests.probes.tables import rows

EQUATIONS = {
    "4.01": "0.05 m KH phthalate (NBS)",
    "6.86": "phosphate 1:1",
    "7.41": "phosphate 1:3.5",
    "9.18": "0.01 m borax",
}


def test_the_nernst_slope_agrees_with_the_table() -> None:
    for row in rows("nernst_slope.csv"):
        assert float(nernst_v(float(row["temp_C"]))) * 1000 == pytest.approx(float(row["slope_mV_per_pH"]), abs=6e-5)


@pytest.mark.parametrize(("temperature_c", "slope_mv"), [(0, 54.199), (25, 59.159), (50, 64.120), (95, 73.049)])
def test_the_nernst_slope_agrees_with_textbook_values(temperature_c: float, slope_mv: float) -> None:
    # Textbook values of the Nernst slope, on the project's science page.
    assert float(nernst_v(temperature_c)) * 1000 == pytest.approx(slope_mv, abs=0.0006)


@pytest.mark.parametrize("name", list(EQUATIONS))
def test_buffer_values_agree_with_their_smoothing_equations(name: str) -> None:
    row = next(row for row in rows("ph_buffer_equations.csv") if row["buffer"] == EQUATIONS[name])
    a, b, c, d = (float(row[letter]) for letter in "ABCD")
    buffer = find_buffer(name)
    for temperature_c in np.arange(buffer.temperatures_c[0], buffer.temperatures_c[-1] + 1):
        kelvin = temperature_c + 273.15
        smooth = a / kelvin + b + c * kelvin + d * kelvin * kelvin
        # 0.0006 at the rows, and the chord between rows 10 degC apart.
        assert buffer.ph_at(float(temperature_c)) == pytest.approx(smooth, abs=0.0025)
        if temperature_c in buffer.temperatures_c:
            assert buffer.ph_at(float(temperature_c)) == pytest.approx(smooth, abs=0.00065)


def test_every_buffer_has_its_nominal_ph_at_25_degrees_and_a_source() -> None:
    for name, buffer in all_buffers().items():
        assert buffer.ph_at(25.0) == pytest.approx(float(name), abs=0.006)
        assert buffer.source and list(buffer.temperatures_c) == sorted(buffer.temperatures_c)


@pytest.mark.parametrize(("text", "name"), [("4.00", "4.01"), ("7", "7.00"), ("pH 10", "10.01"), ("9,18", "9.18")])
def test_buffers_are_found_by_the_value_on_the_bottle(text: str, name: str) -> None:
    assert find_buffer(text).name == name


@pytest.mark.parametrize("text", ["5.5", "ten", "", "nan"])
def test_unknown_buffers_are_refused_with_the_known_ones(text: str) -> None:
    with pytest.raises(ValueError, match=r"known: 1\.68, 4\.01"):
        find_buffer(text)


def test_a_buffer_outside_its_table_is_refused() -> None:
    with pytest.raises(ValueError, match="known from 0 to 50 °C, and 77 was given"):
        find_buffer("10.01").ph_at(77.0)


def buffer_points(names: list[str], slope: float, offset_v: float, temperature_c: float) -> list[BufferPoint]:
    """What an electrode of this health gives."""
    made: list[Buffer] = [find_buffer(name) for name in names]
    return [
        BufferPoint(b.name, temperature_c, offset_v + slope * float(ideal_v(b.ph_at(temperature_c), temperature_c)))
        for b in made
    ]


@given(
    st.sampled_from([["7.00", "10.01"], ["4.01", "7.00", "10.01"], ["9.18", "4.01"], ["12.45", "6.86", "9.18"]]),
    st.floats(0.85, 1.05),
    st.floats(-0.06, 0.06),
    st.floats(10, 40),
    st.floats(2, 13),
    st.floats(5, 50),
)
def test_calibration_inverts_any_linear_electrode(
    names: list[str], slope: float, offset_v: float, buffer_c: float, ph: float, sample_c: float
) -> None:
    points = buffer_points(names, slope, offset_v, buffer_c)
    volts = offset_v + slope * float(ideal_v(ph, sample_c))
    assert float(ph_map(points).ph(volts, sample_c)) == pytest.approx(ph, abs=1e-9)
    assert electrode_health(points).slope == pytest.approx(slope) and electrode_health(
        points
    ).offset_v == pytest.approx(offset_v)


def test_three_buffers_give_a_piecewise_linear_map() -> None:
    acid, middle, alkaline = buffer_points(["4.01", "7.00", "10.01"], 1.0, 0.0, 25.0)
    bent = BufferPoint("10.01", 25.0, 0.9 * alkaline.voltage_v)
    calibrated = ph_map([bent, acid, middle])
    for point in (acid, middle, bent):
        at = find_buffer(point.buffer).ph_at(25.0)
        assert float(calibrated.ph(point.voltage_v, 25.0)) == pytest.approx(at)
    assert float(calibrated.ph(float(ideal_v(5.5, 25.0)), 25.0)) == pytest.approx(5.5)
    for alkaline_ph in (8.5, 12.0):
        assert float(calibrated.ph(0.9 * float(ideal_v(alkaline_ph, 25.0)), 25.0)) == pytest.approx(
            alkaline_ph, abs=0.0001
        )


def test_one_buffer_takes_the_ideal_slope() -> None:
    text = electrode_health(buffer_points(["7.00"], 1.0, 0.012, 20.0))
    assert text.slope_assumed and text.offset_v == pytest.approx(0.012) and text.state == "good"


@pytest.mark.parametrize(
    ("slope", "offset_mv", "state"),
    [
        (0.98, 5, "good"),
        (1.04, -29, "good"),
        (0.93, 5, "tired"),
        (0.98, 45, "tired"),
        (1.07, 0, "tired"),
        (0.85, 5, "poor"),
        (0.98, -70, "poor"),
    ],
)
def test_electrode_health_follows_the_makers_limits(slope: float, offset_mv: float, state: str) -> None:
    # Probe makers' guidance: within 30 mV good, beyond 60 replace; 95-105 % good, below 90 poor (common practice, no one source).
    text = electrode_health(buffer_points(["7.00", "10.01"], slope, offset_mv / 1000, 25.0))
    assert text.state == state and text.words.startswith(f"The probe is {state}")


GOOD_7, GOOD_10 = 0.006, -0.168


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ([("7.00", 25, GOOD_10), ("10.01", 25, GOOD_7)], "buffers 7.00 and 10.01 look swapped"),
        ([("4.01", 25, 0.006), ("7.00", 25, 0.18), ("10.01", 25, -0.168)], "buffers 4.01 and 7.00 look swapped"),
        ([("7.00", 25, GOOD_7), ("7.01", 25, GOOD_7)], "7.00 buffer was measured twice"),
        ([("7.00", 25, GOOD_7), ("10.01", 25, GOOD_7 + 0.0004)], "the same buffer was measured twice"),
        ([("7.00", 25, GOOD_7), ("10.01", 25, GOOD_7 - 0.4 * 0.178)], "slope is 40% of what a probe should give"),
        ([("7.00", 25, GOOD_7), ("10.01", 25, GOOD_7 - 1.3 * 0.178)], "slope is 130%"),
        ([("7.00", 25, 0.0), ("10.01", 25, 0.0)], "exactly 0 V"),
        ([("7.00", 25, 6.1), ("10.01", 25, -168.0)], "these look like millivolts"),
        ([("7.00", 25, 6e-6), ("10.01", 25, -168e-6)], "sent with the unit mV"),
        ([("7.00", 25, 2.51), ("10.01", 25, 2.02)], "take the amplifier's middle"),
        ([("7.00", 25, float("nan"))], "none gives more than half a volt"),
        ([("9.18", 85, -0.12)], "too hot to calibrate in"),
        ([("7.00", 25, 0.2)], "look at the amplifier's middle voltage"),
        ([("6.86", 25, 0.01), ("7.00", 25, 0.002)], "less than 1 pH apart"),
        ([], "one, two or three"),
    ],
)
def test_implausible_buffer_readings_are_refused_in_one_sentence(
    points: list[tuple[str, float, float]], says: str
) -> None:
    with pytest.raises(ValueError, match=says) as told:
        electrode_health([BufferPoint(*point) for point in points])
    assert "\n" not in str(told.value)


def test_a_hot_or_concentrated_sample_is_refused_in_one_sentence() -> None:
    assert sample_refusal(1.0, 25.0) is None and sample_refusal(None, None) is None
    assert "At 93 °C a glass probe tells little" in str(sample_refusal(1.0, 93.0))
    assert "In 100 % of paste" in str(sample_refusal(100.0, 25.0))


def test_age_and_trend_are_described() -> None:
    assert age_words(3600) == "calibrated today" and age_words(86_400 * 1.5) == "calibrated yesterday"
    assert trend_words([(0, 0.98)]) == ""
    assert "held" in trend_words([(0, 0.98), (86_400 * 30, 0.975)])
    assert "fallen from 98.0% to 91.0% in 30 days" in trend_words([(0, 0.98), (86_400 * 30, 0.91)])
