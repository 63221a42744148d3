"""Every figure serves light and dark pages alike, is light to send, tells nothing by colour alone, and has its words."""

import json
from collections.abc import Callable

import pandas as pd
import plotly.graph_objects as go
import pytest

import monitor
from monitor import plots
from monitor.formulation import thickening_curve
from monitor.plots.style import DARK, LIGHT
from monitor.session import kitchen_model
from tests.plots.test_course import NEARLY, course_at
from tests.plots.test_figures import ROOT, SAMPLES, figure_of
from tests.plots.test_jar_figures import ACID, SALT
from tests.plots.test_kitchen_figures import needs

Build = Callable[[bool], go.Figure]


def opened(name: str = "power-cut") -> monitor.OpenedCook:
    return monitor.open_cook(SAMPLES[name])


def weights() -> pd.DataFrame:
    return plots.need_frame(kitchen_model(ROOT / "recordings"))


FIGURES: dict[str, Build] = {
    "course": lambda dark: course_at("power-cut", NEARLY, dark=dark),
    "course with gaps": lambda dark: course_at("loose-probe", dark=dark),
    "cook": lambda dark: figure_of("power-cut", dark=dark),
    "clear time": lambda dark: plots.clear_time(opened().outlook(NEARLY).estimate, dark=dark),
    "compare": lambda dark: plots.compare({name: opened(name).aligned() for name in SAMPLES}, dark=dark),
    "time loss": lambda dark: plots.time_loss(opened().time_loss("ideal"), dark=dark),
    "need": lambda dark: plots.need(weights(), dark=dark),
    "need by cook": lambda dark: plots.need_by_cook(needs(), dark=dark),
    "stated": lambda dark: plots.stated_against_came(monitor.stated_times(ROOT / "recordings"), dark=dark),
    "warm-up": lambda dark: plots.warm_up({"one": opened().aligned()}, 93.0, 3.0, dark=dark),
    "outcomes": lambda dark: plots.outcome_figure(
        [plots.OutcomeLine("long acids", [0.1, 0.2], [0.3], "10 %", "30 %", ("15 %", "30 %"))], dark=dark
    ),
    "excess": lambda dark: plots.true_excess({"before": (-0.01, 0.02, 0.05)}, dark=dark),
    "jar pH": lambda dark: plots.jar_ph(ACID, 9.6, dark=dark),
    "jar thickness": lambda dark: plots.jar_thickness(SALT, thickening_curve(SALT, 2500.0), dark=dark),
}


def sent(figure: go.Figure) -> object:
    """What a browser gets; the order of the keys does not matter to it."""
    return json.loads(figure.to_json())


every_figure = pytest.mark.parametrize("build", FIGURES.values(), ids=list(FIGURES))


@every_figure
def test_the_browser_can_exchange_the_schemes_of_a_figure(build: Build) -> None:
    light, dark = build(False), build(True)
    assert sent(plots.in_scheme(light, dark=True)) == sent(dark)
    assert sent(plots.in_scheme(dark, dark=False)) == sent(light)
    for palette, figure in ((DARK, light), (LIGHT, dark)):
        assert palette.paper not in figure.to_json() and palette.ink not in figure.to_json()


@every_figure
def test_a_figure_has_one_sentence_and_a_table(build: Build) -> None:
    figure = build(False)
    assert plots.alt_text(figure).endswith(".") and len(plots.alt_text(figure)) < 400
    assert len(plots.table(figure)) > 0
    assert not plots.table(figure).isin(["nan", "NaT", "None"]).any(axis=None)


@every_figure
def test_a_figure_is_light_to_send_and_brings_no_style_of_the_library(build: Build) -> None:
    figure = build(False)
    # The cook of every channel and the comparison of three are for the larger screen.
    assert len(figure.to_json()) <= (90_000 if build is FIGURES["cook"] else 25_000)
    # All that is left of the library's style is its own mark of an empty one.
    assert figure.layout.template == go.Figure(layout={"template": "none"}).layout.template
    assert not figure.layout.template.layout.to_plotly_json()


# What the browser's bundle of plotly has, as ``.ci/plotly/bundle.js`` puts it together.
TRACES = {"scatter", "bar"}
LEFT_OUT = {"sliders", "updatemenus", "images", "grid", "coloraxis", "scene", "selections"}


@every_figure
def test_a_figure_needs_no_part_of_plotly_that_pages_do_not_bring(build: Build) -> None:
    figure = build(False)
    assert {trace.type for trace in figure.data} <= TRACES
    layout = figure.layout.to_plotly_json()
    assert not layout.keys() & LEFT_OUT
    axes = [axis for name, axis in layout.items() if name.startswith("xaxis")]
    assert not any(axis.keys() & {"rangeslider", "rangeselector"} for axis in axes)


@every_figure
def test_a_finger_that_scrolls_the_page_is_not_held_up(build: Build) -> None:
    figure = build(False)
    if build is not FIGURES["cook"]:
        assert figure.layout.dragmode is False
        assert figure.layout.xaxis.fixedrange and figure.layout.yaxis.fixedrange


def test_the_two_palettes_have_a_partner_for_each_colour() -> None:
    pairs = plots.scheme_pairs()
    assert len(set(pairs.values())) == len(pairs) == 7 + len(LIGHT.series)
