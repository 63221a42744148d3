"""The figures: what is in them, told apart by more than colour, and readable on their own background."""

import re
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import monitor
from monitor import plots
from monitor.formulation import UnitChoice
from monitor.plots.style import DARK, DASHES, LIGHT, SYMBOLS, Palette
from monitor.session import day_frame, kitchen_model, plan_kitchen_day

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = {path.stem.split("invented-")[1]: path for path in (ROOT / "recordings").glob("*.cook")}


def figure_of(name: str, **more: Any) -> Any:
    cook = monitor.open_cook(SAMPLES[name])
    return plots.cook(cook.readings(), cook.events(), cook.outlook().estimate, title=cook.title, **more)


def test_a_cook_shows_its_curve_its_events_and_when_it_came_clear() -> None:
    figure = figure_of("power-cut")
    names = [trace.name for trace in figure.data]
    assert names[:3] == ["paste", "wall", "room"]
    assert {"stirred", "checked: hazy", "checked: clear", "lid on", "finished"} <= set(names)
    stirs = next(trace for trace in figure.data if trace.name == "stirred")
    assert len(stirs.x) == 3
    assert any(shape.type == "rect" for shape in figure.layout.shapes)
    assert [note.text for note in figure.layout.annotations] == ["clear, 8 in 10"]
    assert figure.layout.title.text == "Invented: a power cut and late stirs"


def test_an_unfinished_cook_shows_the_expected_temperature_and_a_finished_one_does_not() -> None:
    cook = monitor.open_cook(SAMPLES["smooth"])
    at = cook.readings().index[700]
    figure = plots.cook(cook.readings(at), cook.events(at), cook.outlook(at).estimate)
    assert "expected" in [trace.name for trace in figure.data]
    assert "expected" not in [trace.name for trace in figure_of("smooth").data]


def test_a_line_is_broken_where_readings_are_missing() -> None:
    paste = next(trace for trace in figure_of("loose-probe").data if trace.name == "paste")
    read = monitor.open_cook(SAMPLES["loose-probe"]).readings()["paste_c"].dropna()
    gaps = int((read.index.to_series().diff() > pd.Timedelta(minutes=5)).sum())
    assert gaps == 2 and np.isnan(np.asarray(paste.y, dtype=float)).sum() == gaps
    whole = next(trace for trace in figure_of("smooth").data if trace.name == "paste")
    assert not np.isnan(np.asarray(whole.y, dtype=float)).any()


def test_times_are_drawn_in_the_zone_of_the_readings() -> None:
    cook = monitor.open_cook(SAMPLES["smooth"])
    figure = plots.cook(cook.readings().tz_convert("Europe/Berlin"), cook.events(), cook.outlook().estimate)
    first = pd.Timestamp(figure.data[0].x[0])
    assert first.hour == 11 and "Europe/Berlin" in figure.layout.xaxis.title.text
    lid = next(trace for trace in figure.data if trace.name == "lid on")
    assert pd.Timestamp(lid.x[0]).hour == 11


def test_readings_years_apart_add_no_points_between() -> None:
    times = pd.DatetimeIndex(["1971-01-01", "2026-05-02", "2200-01-01"], tz="UTC")
    figure = plots.cook(pd.DataFrame({"paste_c": [20.0, 90.0, 21.0]}, times))
    assert len(figure.data[0].x) == 5


def test_a_cook_without_readings_or_events_is_an_empty_figure() -> None:
    cook = monitor.open_cook(SAMPLES["smooth"])
    assert not plots.cook(cook.readings().iloc[:0]).data[0].x.size
    assert len(plots.cook(cook.readings().iloc[:0][[]], cook.events()).data) > 3


def test_compared_cooks_share_one_time_axis() -> None:
    courses = {name: monitor.open_cook(path).aligned() for name, path in sorted(SAMPLES.items())}
    figure = plots.compare(courses)
    lines = [trace for trace in figure.data if trace.mode == "lines"]
    assert [line.name for line in lines] == sorted(SAMPLES)
    assert len({line.line.dash for line in lines}) == 3
    assert figure.layout.xaxis.title.text == "hours since lid on"
    gaps = {line.name: int(np.isnan(np.asarray(line.y, dtype=float)).sum()) for line in lines}
    assert gaps == {"loose-probe": 2, "power-cut": 0, "smooth": 0}
    tried = {trace.name: len(trace.x) for trace in figure.data if str(trace.name).endswith("not clear")}
    assert tried["power-cut: not clear"] == 5
    other = monitor.open_cook(SAMPLES["smooth"]).aligned("equivalent time")
    assert plots.compare({"one": other}).layout.xaxis.title.text == "equivalent hours at 95 °C"
    with pytest.raises(ValueError, match="they must be by one"):
        plots.compare({**courses, "one": other})


def test_time_losses_are_bars_in_minutes() -> None:
    loss = monitor.open_cook(SAMPLES["power-cut"]).time_loss("ideal")
    figure = plots.time_loss(loss)
    bars = figure.data[0]
    assert figure.layout.yaxis.ticktext[0] == "heat lost" and bars.text[0] == "+98 min"
    assert "an ideal<br>cook" in figure.layout.xaxis.title.text
    # What was quicker is hatched, and each bar knows its stretch of the curve.
    assert [pattern == "/" for pattern in bars.marker.pattern.shape] == [value < 0 for value in bars.x]
    assert bars.customdata[0][0] == loss["begin"].iloc[0].timestamp()
    assert sorted(plots.table(figure)["cause"]) == sorted(loss["cause"])
    assert "the most by heat lost, +98 min" in plots.alt_text(figure)


def test_the_need_is_drawn_for_the_prior_and_for_now() -> None:
    frame = plots.need_frame(kitchen_model(ROOT / "recordings"))
    assert frame.shape == (71, 2) and frame.sum().to_numpy() == pytest.approx([1.0, 1.0])
    figure = plots.need(frame)
    assert [trace.name for trace in figure.data] == ["before any cook", "now"]
    assert max(max(trace.y) for trace in figure.data) == pytest.approx(1.0)


def test_what_cost_less_than_a_minute_is_told_but_not_drawn() -> None:
    loss = monitor.open_cook(SAMPLES["smooth"]).time_loss("ideal")
    figure = plots.time_loss(loss)
    assert 0 < len(figure.data[0].x) < len(loss) == len(plots.table(figure))


def luminance(colour: str) -> float:
    """Relative luminance of a colour, WCAG 2.2, https://www.w3.org/TR/WCAG22/#dfn-relative-luminance."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("palette", [LIGHT, DARK])
def test_lines_and_text_have_enough_contrast(palette: Palette) -> None:
    for colours, least in (((palette.ink, palette.faint), 7.0), (palette.series, 4.5)):
        for colour in colours:
            # Contrast ratio, https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio.
            lighter, darker = sorted((luminance(colour), luminance(palette.paper)), reverse=True)
            assert (lighter + 0.05) / (darker + 0.05) >= least, colour


def test_the_figures_have_the_colours_of_the_pages() -> None:
    sheet = (ROOT / "dashboard" / "assets" / "style.css").read_text(encoding="utf-8")
    for palette, declared in zip((LIGHT, DARK), re.findall(r":root \{(.*?)\}", sheet, re.DOTALL), strict=True):
        css = dict(re.findall(r"--([\w-]+): (#\w+);", declared))
        assert [css[name] for name in ("paper", "ink", "faint", "curve", "look")] == [
            *(palette.paper, palette.ink, palette.faint),
            *palette.series[:2],
        ]


def test_nothing_is_distinguished_by_colour_alone() -> None:
    assert len(set(DASHES)) >= len(LIGHT.series) and len(set(SYMBOLS.values())) == len(SYMBOLS)


def test_a_dark_figure_has_a_dark_background() -> None:
    assert figure_of("smooth", dark=True).layout.paper_bgcolor == DARK.paper


def test_a_planned_day_shows_what_is_sure_full_and_what_a_late_cook_takes_open(tmp_path: Path) -> None:
    plan = plan_kitchen_day(tmp_path, None, now=1_773_484_800.0, start=1_773_488_400.0)
    figure = plots.day(day_frame(plan))
    names = [trace.name for trace in figure.data]
    assert names[:3] == ["oils, lye, blend", "lid on", "stir"] and "stir, in a late cook" in names
    full, empty = (next(one for one in figure.data if one.name == name) for name in ("stir", "stir, in a late cook"))
    assert full.marker.symbol == empty.marker.symbol and full.marker.color != empty.marker.color
    band = next(shape for shape in figure.layout.shapes if shape.type == "rect")
    clear_at = day_frame(plan).attrs["clear_at"]
    assert [pd.Timestamp(band.x0), pd.Timestamp(band.x1)] == [clear_at[n].tz_localize(None) for n in (0, 2)]
    assert max(pd.Timestamp(at) for trace in figure.data for at in trace.x) < pd.Timestamp(full.x[0]) + pd.Timedelta(
        "1D"
    )


def test_a_cook_is_drawn_in_fahrenheit_where_that_is_chosen() -> None:
    plain, chosen = figure_of("smooth"), figure_of("smooth", units=UnitChoice(temperature="degF"))
    assert chosen.layout.yaxis.title.text == "temperature, °F"
    for one, other in zip(plain.data, chosen.data, strict=True):
        assert np.allclose(
            np.asarray(one.y, float) * 9 / 5 + 32, np.asarray(other.y, float), equal_nan=True, atol=0.015
        )  # a hundredth is sent
