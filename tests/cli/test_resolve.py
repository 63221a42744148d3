"""Cooks named on the command line by a part of their names, and folders and ports that are not what was meant."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from monitor.cli import delete, main
from monitor.cli.resolve import ManyCooksError, find
from monitor.logger import RigConfigError, rig_configs
from monitor.runtime import SystemClock
from monitor.sources import open_source, parse_source_url
from monitor.storage import RecordingError, recordings

INVENTED = Path(__file__).resolve().parents[2] / "recordings"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for path in INVENTED.glob("*.cook"):
        shutil.copy(path, tmp_path)
    return tmp_path


def test_a_part_of_one_name_or_title_finds_it(folder: Path) -> None:
    smooth = next(path for path in recordings(folder) if "smooth" in path.stem)
    for asked in ("smooth", "SMOOTH", "05-02T09", smooth.stem, smooth.name, str(smooth), "a smooth cook"):
        assert find(asked, folder) == smooth, asked
    assert find("latest", folder) == recordings(folder)[0]


def test_a_complete_name_is_preferred_to_names_that_contain_it(folder: Path) -> None:
    smooth = find("smooth", folder)
    longer = smooth.with_stem(f"{smooth.stem}-again")
    shutil.copy(smooth, longer)
    assert find(smooth.stem, folder) == smooth and find("smooth-again", folder) == longer


@pytest.mark.parametrize("asked", ["nowhere", "nowhere.cook", "../smooth", "", " ", "elsewhere/smooth.cook"])
def test_a_missing_cook_is_reported_in_one_sentence(folder: Path, asked: str) -> None:
    with pytest.raises(RecordingError, match="there is no such file"):
        find(asked, folder)


def test_several_matches_are_listed(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(ManyCooksError) as caught:
        find("invented", folder)
    assert caught.value.names == tuple(path.stem for path in recordings(folder))
    assert main(["show", "invented", "--recordings", str(folder)]) == 1
    out, err = capsys.readouterr()
    assert out == "" and err.count("\n") == 1 and all(path.stem in err for path in recordings(folder))


def test_every_command_accepts_a_part_of_a_name(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    where = ["--recordings", str(folder)]
    assert main(["show", "smooth", "--plot", str(tmp_path / "drawn.svg"), "--against", "power", *where]) == 0
    assert (tmp_path / "drawn.svg").read_text().startswith("<svg")
    assert main(["export", "loose", "--to", str(tmp_path / "out"), *where]) == 0
    assert main(["sums", "label", "--cook", "smooth", *where]) == 0
    smooth = find("smooth", folder)
    assert main(["delete", "smooth", "--yes", *where]) == 0 and not smooth.exists()
    assert main(["delete", "smooth", "--undo", *where]) == 0 and smooth.exists()


def test_delete_resolves_the_name_before_it_asks(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked: list[str] = []

    def refused(name: str) -> bool:
        asked.append(name)
        return False

    monkeypatch.setattr(delete, "_confirmed", refused)
    for words, why in (("nowhere", "there is no such file"), ("invented", "say more of the name")):
        assert main(["delete", words, "--recordings", str(folder)]) == 1
        assert why in capsys.readouterr().err and asked == []
    assert main(["delete", "smooth", "--recordings", str(folder)]) == 1
    assert asked == [find("smooth", folder).stem]


def test_serve_refuses_a_missing_folder_and_creates_none(tmp_path: Path) -> None:
    words = [sys.executable, "-m", "monitor.cli", "serve", "--port", "0", "--recordings", str(tmp_path / "typo")]
    done = subprocess.run(words, capture_output=True, text=True, check=False, timeout=30)
    assert (done.returncode, done.stdout) == (1, "")
    assert (
        done.stderr == f"kettleside: There is no folder {tmp_path}/typo; --recordings wants the one with the cooks.\n"
    )
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("text", "url"),
    [
        ("/dev/ttyUSB0", "serial:///dev/ttyUSB0"),
        (
            "/dev/serial/by-id/usb-Kitchen_Board-if00?baud=9600",
            "serial:///dev/serial/by-id/usb-Kitchen_Board-if00?baud=9600",
        ),
        ("COM3", "serial:COM3"),
    ],
)
def test_a_bare_port_name_is_a_serial_source(text: str, url: str) -> None:
    assert parse_source_url(text) == parse_source_url(url)
    open_source(parse_source_url(text), SystemClock()).close()
    assert rig_configs([f"left={text}", "right=rig:"])[0].source == url
    with pytest.raises(RigConfigError, match="The same source"):
        rig_configs([f"left={text}", f"right={url}"])
