"""Figures as files: a page that needs no other host, and pictures drawn by a real Chromium."""

import struct
import sys
from pathlib import Path
from xml.etree import ElementTree

import choreographer.browsers.chromium as chromium
import pytest

from monitor.cli import main
from monitor.plots import PlotError, need, need_frame, write_figure
from monitor.plots.style import HEIGHT_PX, WIDTH_PX
from monitor.session import kitchen_model

ROOT = Path(__file__).resolve().parents[2]
RECORDINGS = ROOT / "recordings"


def drawn(path: Path) -> int:
    return main(["show", "power-cut", "--recordings", str(RECORDINGS), "--plot", str(path)])


def test_a_page_contains_its_script_and_loads_nothing(tmp_path: Path) -> None:
    assert drawn(tmp_path / "cook.html") == 0
    page = (tmp_path / "cook.html").read_text(encoding="utf-8")
    assert "Plotly.newPlot" in page and len(page) > 1_000_000
    markup = page.split("<script", 1)[0]
    assert "src=" not in markup and "<link" not in page and "<script src" not in page


@pytest.mark.browser
def test_a_cook_is_drawn_as_svg_and_png(tmp_path: Path) -> None:
    assert drawn(tmp_path / "cook.svg") == 0
    tree = ElementTree.parse(tmp_path / "cook.svg")
    words = "".join(tree.getroot().itertext())
    assert "Invented: a power cut and late stirs" in words and "100 °C" in words
    assert "3 stirs; 6 checks, the last," in words and "read clear" in words
    assert drawn(tmp_path / "cook.png") == 0
    head = (tmp_path / "cook.png").read_bytes()[:24]
    # PNG (W3C, third edition), 5.2 and 11.2.1: the signature, then width and height in the IHDR chunk.
    assert head[:8] == b"\x89PNG\r\n\x1a\n" and struct.unpack(">II", head[16:24]) == (WIDTH_PX, HEIGHT_PX)


@pytest.mark.browser
def test_the_learned_report_is_drawn_as_an_image(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "need.svg"
    assert main(["kitchen", "--recordings", str(RECORDINGS), "--picture", str(path)]) == 0
    assert "before any cook" in path.read_text(encoding="utf-8")
    assert f"Drawn in {path}." in capsys.readouterr().out


def test_without_the_library_one_sentence_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "kaleido", None)
    assert drawn(tmp_path / "cook.svg") == 1
    said = capsys.readouterr().err
    assert "pip install kaleido" in said and said.count("\n") == 1
    assert not (tmp_path / "cook.svg").exists()
    assert drawn(tmp_path / "cook.html") == 0


def test_without_a_browser_one_sentence_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(chromium.Chromium, "find_browser", classmethod(lambda *_, **__: None))
    assert drawn(tmp_path / "cook.png") == 1
    said = capsys.readouterr().err
    assert "apt install chromium" in said and said.count("\n") == 1


def test_an_unknown_suffix_and_a_missing_folder_are_refused(tmp_path: Path) -> None:
    figure = need(need_frame(kitchen_model(tmp_path)))
    with pytest.raises(PlotError, match="must end with"):
        write_figure(figure, tmp_path / "need.gif")
    with pytest.raises(PlotError, match="no such file"):
        write_figure(figure, tmp_path / "nowhere" / "need.html")
