"""The strip of a course for a list: what is drawn, on one scale, in both schemes."""

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np

from monitor.plots import course_thumbnail, curve
from monitor.plots.thumbnail import HEIGHT, MOST_POINTS, WIDTH
from monitor.session import Cook

ROOT = Path(__file__).resolve().parents[2]


def paths(svg: str) -> list[tuple[str, str]]:
    """Class and path data of each path."""
    return [
        (one.get("class", ""), one.get("d", "")) for one in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}path")
    ]


def points(path: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path)]


def test_a_whole_cook_fits_its_box_and_few_bytes() -> None:
    cook = Cook(next((ROOT / "recordings").glob("*power-cut.cook")))
    times, temperatures_c = curve(cook.history())
    svg = course_thumbnail(times, temperatures_c, times[0], 7 * 3600.0, clear=times[0] + 6 * 3600.0)
    assert len(svg) < 4000 and "prefers-color-scheme:dark" in svg
    line = points(dict(paths(svg))[""])
    assert 60 < len(line) <= MOST_POINTS
    assert all(0.0 <= x <= WIDTH and 0.0 <= y <= HEIGHT for x, y in line)


def test_the_same_length_is_drawn_as_long_on_the_same_scale() -> None:
    times = np.arange(0.0, 3600.0, 60.0)
    ends = []
    for begin in (0.0, -1800.0):
        svg = course_thumbnail(times, np.full(len(times), 80.0), begin, 4 * 3600.0)
        line = points(dict(paths(svg))[""])
        ends.append(line[-1][0] - line[0][0])
    assert abs(ends[0] - ends[1]) <= WIDTH / MOST_POINTS and abs(ends[0] - WIDTH / 4) < 2 * WIDTH / MOST_POINTS


def test_a_gap_breaks_the_line_and_what_lies_beyond_the_scale_is_cut() -> None:
    times = np.concatenate([np.arange(0.0, 1800.0, 60.0), np.arange(5400.0, 90_000.0, 60.0)])
    svg = course_thumbnail(times, np.full(len(times), 1e12), 0.0, 2 * 3600.0)
    line = dict(paths(svg))[""]
    assert line.count("M") == 2 and max(x for x, _ in points(line)) <= WIDTH
    assert {y for _, y in points(line)} == {0.0}


def test_without_a_reading_there_is_only_the_scale() -> None:
    svg = course_thumbnail(np.empty(0), np.empty(0), 0.0, 3 * 3600.0)
    assert [name for name, _ in paths(svg)] == ["rule"] and paths(svg)[0][1].count("V") == 3
