"""A course as a picture for paper: all that the figure shows is in it, and it needs neither script nor browser."""

import re
import xml.etree.ElementTree as ET
from urllib.parse import unquote

import pytest

import monitor
from monitor import plots
from monitor.plots.printed import HEIGHT_PX, WIDTH_PX
from tests.plots.test_figures import SAMPLES

SVG = "{http://www.w3.org/2000/svg}"


def printed(name: str, zone: str = "UTC", width_px: float = WIDTH_PX) -> ET.Element:
    cook = monitor.open_cook(SAMPLES[name])
    return ET.fromstring(plots.course_svg(plots.course(cook.readings().tz_convert(zone), cook.events()), width_px))


def texts(picture: ET.Element) -> list[str]:
    return [str(text.text) for text in picture.iter(f"{SVG}text")]


def test_the_picture_has_what_the_figure_shows() -> None:
    cook = monitor.open_cook(SAMPLES["power-cut"])
    figure = plots.course(cook.readings(), cook.events())
    picture = ET.fromstring(plots.course_svg(figure))
    title = picture.find(f"{SVG}title")
    assert title is not None and title.text == plots.alt_text(figure)
    assert {"20", "40", "60", "80", "100 °C", "clear 15:03", "10:00", "15:00"} <= set(texts(picture))
    glasses = [path for path in picture.iter(f"{SVG}path") if "scale(1 -1)" in path.get("transform", "")]
    # Five hazy ones of three strokes, and a clear one of two.
    assert len(glasses) == 17
    stirs = [path for path in picture.iter(f"{SVG}path") if path.get("stroke-width") == "3"]
    assert len(stirs) == len(cook.events().query("kind == 'stirred'"))


def test_missing_readings_are_hatched_and_break_the_line() -> None:
    picture = printed("loose-probe")
    assert [path.get("fill") for path in picture.iter(f"{SVG}path")].count("url(#hatched)") == 2
    assert "no readings" in texts(picture)
    lines = [path for path in picture.iter(f"{SVG}path") if path.get("stroke-width") == "2.5"]
    assert len(lines) == 3


def test_times_are_those_of_the_zone() -> None:
    assert "clear 00:31" in texts(printed("smooth", "Pacific/Auckland"))


@pytest.mark.parametrize("width_px", [328.0, WIDTH_PX])
@pytest.mark.parametrize("name", SAMPLES)
def test_everything_lies_within_the_picture(name: str, width_px: float) -> None:
    picture = printed(name, width_px=width_px)
    for path in picture.iter(f"{SVG}path"):
        if path.get("transform") is None and path.get("d") != "M0 8L8 0":
            numbers = [float(number) for number in re.findall(r"-?[\d.]+", path.get("d", ""))]
            assert all(-10 <= x <= width_px for x in numbers[::2]) and all(0 <= y <= HEIGHT_PX for y in numbers[1::2])
    for text in picture.iter(f"{SVG}text"):
        width = 7.5 * len(str(text.text))
        start = float(text.get("x", "")) - {"end": width, "middle": width / 2}.get(text.get("text-anchor", ""), 0.0)
        assert start >= 0 and (start + width <= width_px or "rotate" in text.get("transform", ""))


def test_the_address_holds_the_picture_and_follows_the_scheme() -> None:
    cook = monitor.open_cook(SAMPLES["smooth"])
    address = plots.course_address(plots.course(cook.readings(), cook.events()))
    kind, _, text = address.partition(",")
    assert kind == "data:image/svg+xml" and '"' not in text and " " not in text
    assert ET.fromstring(unquote(text)).tag == f"{SVG}svg"
    assert "@media screen and (prefers-color-scheme:dark)" in unquote(text) and "<script" not in unquote(text)


def test_what_cannot_be_printed_is_refused() -> None:
    cook = monitor.open_cook(SAMPLES["smooth"])
    figure = plots.course(cook.readings(), cook.events())
    figure.add_scatter(x=figure.layout.xaxis.range[:1], y=[50], mode="markers", marker={"symbol": "star", "size": 9})
    with pytest.raises(ValueError, match="a marker is 'star'"):
        plots.course_svg(figure)
