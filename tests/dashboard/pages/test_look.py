"""Contrast of the style sheet's colours, by the formula of WCAG 2.2 (relative luminance and contrast ratio)."""

import re

import pytest

from dashboard.app import ASSETS

STYLE = (ASSETS / "style.css").read_text(encoding="utf-8")
# Success criterion 1.4.3: text. 1.4.11: what must be seen to use or understand the page.
TEXT, SHAPE = 4.5, 3.0
# The name of a drawing's vocabulary (W3C, SVG 2), which nothing fetches.
NAMESPACE = "http://www.w3.org/2000/svg"
# Sheets that no page of Dash has.
PAGES_OF_TEMPLATES = re.compile(r"(bench|record|probes)\.")
PAIRS = [
    ("ink", "paper", TEXT),
    ("faint", "paper", TEXT),
    ("press-ink", "press", TEXT),
    ("second-ink", "second", TEXT),
    ("due", "paper", SHAPE),
    ("due-ink", "due", TEXT),
    ("alarm-ink", "alarm", TEXT),
    ("alarm", "paper", SHAPE),
    ("press", "paper", SHAPE),
    ("rule", "paper", SHAPE),
    ("curve", "paper", SHAPE),
    ("curve", "band", SHAPE),
    ("ahead", "paper", SHAPE),
    ("look", "paper", SHAPE),
]


def colours(scheme: str) -> dict[str, str]:
    blocks = re.findall(r":root\s*\{([^}]*)\}", STYLE)
    assert len(blocks) == 2
    found = dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{6});", blocks[0]))
    if scheme == "dark":
        dark = dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{6});", blocks[1]))
        assert dark.keys() == found.keys()
        found = dark
    return found


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_formula_gives_the_published_values() -> None:
    # Black on white is 21:1 by the recommendation's own definition; #767676 on white is the usual least grey, 4.54.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("front", "back", "least"), PAIRS)
def test_every_pair_of_colours_has_enough_contrast(scheme: str, front: str, back: str, least: float) -> None:
    found = colours(scheme)
    assert contrast(found[front], found[back]) >= least


def test_colours_are_defined_in_one_place() -> None:
    rules = re.sub(r":root\s*\{[^}]*\}", "", STYLE)
    assert not re.findall(r"#[0-9a-f]{3,8}\s*[;!,)]", rules)


def test_reduced_motion_is_respected() -> None:
    assert "prefers-reduced-motion: reduce" in STYLE


def test_no_file_is_fetched_from_another_host() -> None:
    for path in ASSETS.glob("*.*"):
        if path.name[:3] in ("60-", "70-"):
            continue
        # Pictures stand among them, which are no text.
        text = path.read_bytes().replace(NAMESPACE.encode(), b"")
        assert b"http://" not in text, path.name
        assert b"https://" not in text, path.name


def test_no_style_of_the_pages_looks_at_what_stands_inside() -> None:
    # Plotly measures each text of a chart, and with one such selector (W3C, Selectors Level 4, ":has()") each measure
    # has the whole page styled anew: twenty times as long.
    sheets = [path for path in ASSETS.glob("*.css") if not PAGES_OF_TEMPLATES.match(path.name)]
    rules = [re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.DOTALL) for path in sheets]
    assert len(sheets) > 3
    assert not any(":has(" in rule for rule in rules)
