"""The jar curves: the line with its range, and the hump with its peak."""

import pytest

from monitor import plots
from monitor.formulation import Jar, JarReading, jar_dose, thickening_curve

ACID = Jar(
    100.0,
    "citric acid",
    50.0,
    (JarReading(0.0, 10.2), JarReading(1.0, 9.8), JarReading(2.0, 9.45), JarReading(3.0, 9.1, False)),
)
SALT = Jar(
    100.0,
    "salt",
    20.0,
    (
        JarReading(0.0, 8.0),
        JarReading(2.0, 14.0),
        JarReading(4.0, 30.0),
        JarReading(6.0, 21.0),
        JarReading(8.0, 9.0, False),
    ),
)


def test_the_bar_on_the_target_is_the_dose_of_the_jar() -> None:
    figure = plots.jar_ph(ACID, 9.6)
    low, high, line, bar, clear, cloudy = figure.data
    dose = jar_dose(ACID, 100.0, 9.6)
    assert bar.x == pytest.approx((dose.stock_g[0], dose.stock_g[2]), abs=0.001) and set(bar.y) == {9.6}
    assert all(a < m < b for a, m, b in zip(low.y, line.y, high.y, strict=True))
    # The band is narrowest near the target, where readings count most, and the line falls as the dose says.
    widths = [b - a for a, b in zip(low.y, high.y, strict=True)]
    assert 0.5 < line.x[widths.index(min(widths))] < 2.5
    assert (line.y[0] - line.y[-1]) / line.x[-1] == pytest.approx(dose.ph_per_g, abs=0.001)
    assert (clear.name, cloudy.name) == ("clear", "cloudy") and clear.marker.symbol != cloudy.marker.symbol
    assert plots.alt_text(figure) == "The jar comes to pH 9.6 with about 1.6 g of stock, likely 1.4 to 1.7 g."
    assert plots.table(figure)["look"].tolist() == ["clear"] * 3 + ["cloudy"]


def test_a_jar_that_says_nothing_has_no_bar() -> None:
    flat = Jar(100.0, "citric acid", 50.0, (JarReading(0.0, 10.2), JarReading(1.0, 10.2)))
    figure = plots.jar_ph(flat, 9.6)
    assert "stock wanted" not in [one.name for one in figure.data]
    assert plots.alt_text(figure).startswith("The jar does not say")


def test_too_few_readings_are_refused_as_by_the_dose() -> None:
    with pytest.raises(ValueError, match="readings are too few"):
        plots.jar_ph(Jar(100.0, "citric acid", 50.0, (JarReading(0.0, 10.2),)), 9.6)


def test_the_hump_has_its_peak_where_the_curve_found_it() -> None:
    figure = plots.jar_thickness(SALT, thickening_curve(SALT, 2500.0))
    peak = next(one for one in figure.data if one.name == "peak")
    assert (min(peak.x), max(peak.x)) == (2.0, 6.0) and peak.fillpattern.shape == "/"
    assert "The peak lies between 2 and 6 g" in plots.alt_text(figure)
    assert plots.table(figure)["runs out in"].tolist() == ["8 s", "14 s", "30 s", "21 s", "9 s"]


def test_before_the_peak_is_found_none_is_drawn() -> None:
    rising = Jar(100.0, "salt", 20.0, SALT.readings[:3])
    figure = plots.jar_thickness(rising, thickening_curve(rising, 2500.0))
    assert "peak" not in [one.name for one in figure.data] and "not yet found" in plots.alt_text(figure)
