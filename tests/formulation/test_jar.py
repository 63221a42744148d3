"""The jar test and the thickening curve, against independent fits, simulated jars and bad input."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import curve_fit

from monitor.chemistry import Solution, ph
from monitor.formulation.cautions import BORATES
from monitor.formulation.jar import Jar, JarReading, latest_jar
from monitor.formulation.jar_neutralising import BEND_PER_PH, READING_NOISE, jar_dose
from monitor.formulation.line_fit import fit_line
from monitor.formulation.thickening import find_thickener, thickener_names, thickening_curve
from monitor.model import Event, make_event

POINTS = [(0.0, 10.21, 0.05), (0.8, 9.93, 0.04), (1.5, 9.60, 0.05), (2.4, 9.31, 0.08), (3.0, 9.02, 0.06)]


def acid_jar(*readings: tuple[float, float, bool], percent: float | None = 50.0, what: str = "citric acid") -> Jar:
    return Jar(100.0, what, percent, tuple(JarReading(*each) for each in readings))


def salt_jar(*readings: tuple[float, float, bool], what: str = "salt") -> Jar:
    return Jar(100.0, what, 20.0, tuple(JarReading(*each) for each in readings))


USUAL = acid_jar((0, 10.2, True), (1, 9.8, True), (2, 9.4, True))
HUMP = salt_jar((0, 8, True), (2, 14, True), (4, 30, True), (6, 21, True))


def test_the_line_agrees_with_scipy() -> None:
    # scipy.optimize.curve_fit with absolute_sigma, an independent weighted least squares (Levenberg and Marquardt).
    x, y, sd = (np.array(column) for column in zip(*POINTS, strict=True))
    line = fit_line(POINTS)
    found, covariance = curve_fit(lambda at, level, slope: level + slope * at, x, y, sigma=sd, absolute_sigma=True)
    chi2 = float(np.sum(((y - found[0] - found[1] * x) / sd) ** 2)) / (len(POINTS) - 2)
    wider = math.sqrt(max(chi2, 1.0))
    assert math.isclose(line.slope, found[1], rel_tol=1e-6)
    assert math.isclose(line.mean_y - line.slope * line.mean_x, found[0], rel_tol=1e-6)
    assert math.isclose(line.slope_sd, wider * math.sqrt(covariance[1][1]), rel_tol=1e-4)
    at_mean = covariance[0][0] + 2.0 * line.mean_x * covariance[0][1] + line.mean_x**2 * covariance[1][1]
    assert math.isclose(line.mean_sd, wider * math.sqrt(at_mean), rel_tol=1e-4)


def test_the_line_agrees_with_numpy_polyfit_where_the_points_scatter_widely() -> None:
    # numpy.polyfit scales its covariance by chi-square over the degrees of freedom, as ours does above 1.
    x, y = np.array([0.0, 1.0, 2.0, 3.0]), np.array([10.2, 9.6, 9.7, 9.0])
    found, covariance = np.polyfit(x, y, 1, w=np.full(4, 1.0 / 0.05), cov=True)
    line = fit_line([(a, b, 0.05) for a, b in zip(x, y, strict=True)])
    assert math.isclose(line.slope, found[0], rel_tol=1e-9)
    assert math.isclose(line.slope_sd, math.sqrt(covariance[0][0]), rel_tol=1e-9)


def test_eight_ranges_in_ten_hold_the_true_grams() -> None:
    draw = np.random.default_rng(5)
    true_g, slope, x = 1.6, -0.4, [0.0, 0.7, 1.4, 2.1]
    held = 0
    for _ in range(2000):
        noise = draw.normal(0.0, 0.05, len(x))
        ends = fit_line([(g, 9.6 + slope * (g - true_g) + e, 0.05) for g, e in zip(x, noise, strict=True)]).reaches(9.6)
        assert ends is not None
        held += ends[0] <= true_g <= ends[2]
    assert 0.76 < held / 2000 < 0.92


def test_the_dose_is_the_jars_scaled_by_mass() -> None:
    dose = jar_dose(USUAL, 2500.0, 9.6)
    # 0.4 pH a gram, so 1.5 g of stock in 100 g, by hand; times 25.
    assert math.isclose(dose.ph_per_g, 0.4, rel_tol=1e-9)
    assert math.isclose(dose.stock_g[1], 37.5, rel_tol=1e-9)
    assert dose.reagent_g is not None and math.isclose(dose.reagent_g[1], 18.75, rel_tol=1e-9)
    assert dose.sure and dose.stock_g[0] < 37.5 < dose.stock_g[2] <= dose.most_stock_g == 50.0
    assert 0.5 * dose.stock_g[0] <= dose.first_stock_g <= 2.0 / 3.0 * dose.stock_g[0]
    assert (
        jar_dose(acid_jar(*((r.stock_g, r.value, True) for r in USUAL.readings), percent=None), 2500.0, 9.6).reagent_g
        is None
    )


def test_a_jar_of_a_known_curve_gives_its_grams() -> None:
    # A jar by the charge balance, which PHREEQC checks elsewhere: the line is straight enough near the target.
    def reads(stock_g: float) -> float:
        acid = stock_g * 0.5 / 192.124
        return ph(Solution(cations=0.0085, soap=0.0083, citrate=acid / 10.0))

    readings = [(g, round(reads(g), 2), True) for g in (0.0, 0.6, 1.2, 1.8, 2.4)]
    target = readings[-1][1] + 0.15
    low, middle, high = jar_dose(acid_jar(*readings), 100.0, target).stock_g
    exact = next(g / 1000.0 for g in range(5000) if reads(g / 1000.0) <= target)
    assert low <= exact <= high and abs(middle - exact) < 0.25 * exact


def test_nothing_is_advised_at_or_past_the_first_cloudy_portion() -> None:
    jar = acid_jar((0, 10.2, True), (1, 9.8, True), (2, 9.4, False), (3, 9.0, True))
    dose = jar_dose(jar, 2500.0, 9.2)
    assert dose.most_stock_g == 25.0 and max(dose.stock_g) <= 25.0
    assert "cloudy at 2 g: never more than 1 g" in " ".join(dose.meaning)
    assert "as far as it stays clear" in " ".join(dose.meaning)


def test_nothing_is_advised_past_the_last_portion() -> None:
    dose = jar_dose(USUAL, 2500.0, 8.5)
    assert max(dose.stock_g) <= dose.most_stock_g == 50.0
    assert "add portions until it reads less" in " ".join(dose.meaning)


def test_two_readings_or_a_wide_range_are_not_enough() -> None:
    two = jar_dose(acid_jar((0, 10.2, True), (1, 9.8, True)), 2500.0, 10.0)
    assert not two.sure and "nothing checks" in two.meaning[-1]
    wide = jar_dose(acid_jar((0, 10.2, True), (0.2, 10.12, True), (0.4, 10.04, True)), 2500.0, 10.15)
    assert not wide.sure and "too wide" in wide.meaning[-1]
    flat = jar_dose(acid_jar((0, 10.0, True), (1, 10.02, True), (2, 9.99, True)), 2500.0, 9.5)
    assert not flat.sure and flat.first_stock_g == 0.0 and "larger portion" in flat.meaning[0]


def test_far_readings_count_less() -> None:
    # Steep at first, flat near the target: the straight line through all would stop too early.
    bent = acid_jar((0, 11.0, True), (0.5, 10.0, True), (1.5, 9.7, True), (2.5, 9.4, True))
    near = jar_dose(bent, 100.0, 9.5).stock_g[1]
    assert abs(near - 2.17) < 0.1
    assert READING_NOISE < BEND_PER_PH


def test_the_peak_is_not_yet_found_or_lies_between_two_portions() -> None:
    rising = salt_jar((0, 8, True), (2, 14, True), (4, 30, True))
    curve = thickening_curve(rising, 2500.0)
    assert not curve.peak_found and curve.peak_g is None and curve.meaning[0].startswith("Peak not yet found")
    found = thickening_curve(HUMP, 2500.0)
    assert found.peak_found and found.peak_g == (2, 6) and found.thickest_s == 30
    assert found.stock_g == 100.0 and found.thickener_g == 20.0 and found.first_stock_g == 60.0


@pytest.mark.parametrize(
    ("readings", "most_g"),
    [
        ([(0, 8, True), (2, 14, True), (4, 30, True), (6, 21, True), (8, 40, True)], 4.0),
        ([(0, 8, True), (2, 14, True), (4, 14.3, True), (6, 14.5, True)], 2.0),
        ([(0, 8, True), (2, 14, True), (4, 30, False), (6, 60, True)], 2.0),
        ([(0, 8, True), (2, 7, True)], 0.0),
        ([(0, 8, True), (2, 8.2, True)], 0.0),
    ],
)
def test_never_beyond_the_last_portion_that_still_thickened(
    readings: list[tuple[float, float, bool]], most_g: float
) -> None:
    assert thickening_curve(salt_jar(*readings), 100.0).stock_g == most_g


def test_a_wanted_run_out_lies_between_two_readings() -> None:
    assert math.isclose(thickening_curve(HUMP, 100.0, wanted_s=22.0).stock_g, 3.0)
    with pytest.raises(ValueError, match="wanted_s is 31 s; it must be from 8 to 30 s"):
        thickening_curve(HUMP, 100.0, wanted_s=31.0)


@pytest.mark.parametrize("seed", range(20))
def test_a_simulated_hump_is_found_and_never_passed(seed: int) -> None:
    draw = np.random.default_rng(seed)
    peak_g, noise = float(draw.uniform(2.0, 7.0)), draw.normal(1.0, 0.015, 12)
    readings = [
        (float(g), 60.0 * math.exp(-(((g - peak_g) / 2.5) ** 2)) * float(noise[g]) + 5.0, True) for g in range(12)
    ]
    curve = thickening_curve(salt_jar(*readings), 100.0)
    assert curve.peak_found and curve.peak_g is not None
    assert curve.peak_g[0] <= peak_g + 0.5 and peak_g - 0.5 <= curve.peak_g[1]
    assert curve.stock_g <= peak_g + 1.0


def test_borax_stays_behind_its_warning() -> None:
    borax = salt_jar((0, 8, True), (2, 14, True), what="borax")
    with pytest.raises(ValueError, match="only dosed once its warning has been read"):
        thickening_curve(borax, 100.0)
    assert thickening_curve(borax, 100.0, warning_read=True).cautions[0].words == BORATES
    jar = acid_jar((0, 10.2, True), (1, 9.8, True), what="borax")
    with pytest.raises(ValueError, match="only dosed once its warning has been read"):
        jar_dose(jar, 100.0, 10.0)
    assert jar_dose(jar, 100.0, 10.0, warning_read=True).cautions[0].words == BORATES
    assert [find_thickener(name, warning_read=True) for name in thickener_names()] == thickener_names()


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: acid_jar((-1, 10.0, True)), "stock_g is -1 g; it must be from 0 to 500 g"),
        (lambda: acid_jar((2, 10.0, True), (1, 9.8, True)), "stock_g is 1 g after 2 g; it is the total so far"),
        (lambda: Jar(0.0, "citric acid", 50.0, ()), "jar_g is 0 g; it must be from 10 to 5000 g"),
        (lambda: acid_jar(percent=0.0), "stock_percent is 0 %; it must be from 0.01 to 100 %"),
        (lambda: jar_dose(acid_jar((0, 10.2, True)), 2500.0, 9.6), "readings are too few"),
        (lambda: jar_dose(acid_jar(), 2500.0, 9.6), "readings are too few"),
        (lambda: jar_dose(acid_jar((0, 10.2, False), (1, 9.8, True)), 2500.0, 9.6), "look is cloudy before anything"),
        (lambda: jar_dose(acid_jar((1, 10.2, False)), 2500.0, 9.6), "look is cloudy at the first portion of 1 g"),
        (lambda: jar_dose(USUAL, 0.0, 9.6), "pot_g is 0 g; it must be from 10 to"),
        (lambda: jar_dose(USUAL, 2500.0, 10.3), "target_ph is 10.3; the jar read 10.2 at first"),
        (lambda: jar_dose(USUAL, 2500.0, 6.0), "target_ph is 6; it must be from 8 to 11"),
        (lambda: jar_dose(acid_jar((0, 10.2, True), what="vinegar"), 100.0, 9.6), "not in the table; nearest"),
        (lambda: thickening_curve(salt_jar((0, 8, True)), 100.0), "readings are too few"),
        (lambda: thickening_curve(salt_jar((0, 0.0, True), (1, 8, True)), 100.0), "run_out_s is 0 s"),
        (lambda: thickening_curve(salt_jar((0, 8, True), what="sugar"), 100.0), "thickener is 'sugar'; it must be one"),
        (lambda: fit_line([(1.0, 10.0, 0.05), (1.0, 9.9, 0.05)]), "points have one x"),
    ],
)
def test_bad_input_is_refused_in_one_sentence(make: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words.replace("(", r"\(")) as caught:
        make()
    assert "\n" not in str(caught.value)


def test_the_last_jar_is_read_from_the_log() -> None:
    def logged(n: int, **fields: object) -> Event:
        return make_event(
            f"jar-event-{n}", "jar neutralised", float(n), float(n), {"jar_g": 100, "reagent": "citric acid", **fields}
        )

    events = [
        logged(1, stock_g=0, ph=10.4, stock_percent=50),
        logged(2, stock_g=2, ph=9.9, stock_percent=50),
        logged(3, stock_g=0, ph=10.3, stock_percent=50),
        logged(4, stock_g=1, ph=9.9, stock_percent=50, look="cloudy"),
    ]
    jar = latest_jar(events, "jar neutralised")
    assert jar is not None and [r.value for r in jar.readings] == [10.3, 9.9]
    assert jar.stock_so_far_g == 1.0 and jar.cloudy_from_g == 1.0
    assert latest_jar(events, "jar thickened") is None
