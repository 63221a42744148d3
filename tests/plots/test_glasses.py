"""The drawn glasses: one drawing for charts and buttons, told apart by the print behind the glass."""

from itertools import pairwise
from urllib.parse import unquote
from xml.etree import ElementTree

import pytest

from monitor.plots import glass_address, glass_svg
from monitor.plots.glasses import HEIGHT, PLANNED, WIDTH, glass_shapes, strokes

# In ``model``: from done to not nearly done.
LOOKS = ("clear", "nearly clear", "hazy", "cloudy")
SVG = "{http://www.w3.org/2000/svg}"


def ink(look: str) -> float:
    """How much of the print's place is covered: veil counted by its length, a full glass as all."""
    _, *inside = strokes(look)
    return sum(
        1000.0
        if stroke.full
        else stroke.width * sum(abs(line[0][0] - line[-1][0]) + abs(line[0][1] - line[-1][1]) for line in stroke.lines)
        for stroke in inside
    )


def test_the_less_clear_a_sample_the_more_lies_before_the_print() -> None:
    inks = [ink(look) for look in LOOKS]
    assert inks == sorted(inks) and all(later > 1.3 * one for one, later in pairwise(inks))
    assert ink(PLANNED) == 0.0


@pytest.mark.parametrize("look", [*LOOKS, PLANNED])
def test_a_glass_is_a_small_drawing_in_one_colour_within_its_box(look: str) -> None:
    text = glass_svg(look)
    tree = ElementTree.fromstring(text)
    assert tree.tag == f"{SVG}svg" and tree.get("viewBox") == f"0 0 {WIDTH:g} {HEIGHT:g}"
    assert {part.get("fill") for part in tree.iter(f"{SVG}path")} <= {None, "currentColor"}
    assert "<script" not in text and "http" not in text.replace("http://www.w3.org/2000/svg", "")
    assert len(glass_address(look)) < 2500 and unquote(glass_address(look)).endswith(text)
    for stroke in strokes(look):
        for line in stroke.lines:
            assert all(0.0 <= x <= WIDTH and 0.0 <= y <= HEIGHT for x, y in line)


def test_each_look_is_another_drawing() -> None:
    assert len({glass_svg(look) for look in (*LOOKS, PLANNED)}) == 5


def test_a_glass_in_a_figure_stands_on_its_foot_and_hides_what_is_behind() -> None:
    glass, *inside = glass_shapes("hazy", 5.0, 0.25, "y3", "#111111", "#eeeeee")
    assert glass["fillcolor"] == "#eeeeee" and not any("fillcolor" in one for one in inside)
    assert glass["xanchor"] == 5.0 and glass["yanchor"] == 0.25 and glass["ysizemode"] == "pixel"
    assert ",0.0" in str(glass["path"])


def test_an_unknown_look_is_refused() -> None:
    with pytest.raises(ValueError, match="must be one of clear, nearly clear, hazy, cloudy"):
        glass_svg("murky")
