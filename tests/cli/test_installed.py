"""The wheel has everything, and works in an environment of its own, far from any clone and without a network."""

import os
import re
import shutil
import signal
import subprocess
import sys
import tarfile
import zipfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from urllib.request import HTTPCookieProcessor, build_opener

import pytest

pytestmark = pytest.mark.long
ROOT = Path(__file__).resolve().parents[2]
SHARED = "kettleside-0.1.0.data/data/share/kettleside/"
WITHIN_S = 300


def build(source: Path, kind: str, out: Path) -> Path:
    """A wheel or sdist, made by the setuptools of this environment, as pip asks it (PEP 517)."""
    out.mkdir(exist_ok=True)
    code = f"import sys; from setuptools import build_meta as b; b.build_{kind}(sys.argv[1])"
    subprocess.run(
        [sys.executable, "-c", code, str(out)], cwd=source, check=True, capture_output=True, timeout=WITHIN_S
    )
    return next(out.iterdir())


def shipped(folder: str) -> set[str]:
    """The files of a folder of the source, without what only developers or the README want."""
    return {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts and ".kettleside" not in path.parts
        if "decisions" not in path.parts and not (path.suffix == ".png" and path.parent.name == "dashboard")
    }


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The source as a fresh clone has it, so that nothing of an earlier build gets in."""
    place = tmp_path_factory.mktemp("clone")
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, place)
    for name in ("monitor", "dashboard", "recordings", "firmware_notes"):
        shutil.copytree(ROOT / name, place / name, ignore=shutil.ignore_patterns("__pycache__", ".kettleside"))
    return place


@pytest.fixture(scope="module")
def wheel(source: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build(source, "wheel", tmp_path_factory.mktemp("wheel"))


@pytest.fixture(scope="module")
def away(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An environment with the wheel, whose other libraries are those of this one."""
    place = tmp_path_factory.mktemp("away")
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", place / "venv"], check=True, timeout=WITHIN_S)
    pip = [sys.executable, "-m", "pip", "--python", str(place / "venv/bin/python"), "install", "-q", "--no-index"]
    subprocess.run([*pip, "--no-deps", str(wheel)], check=True, timeout=WITHIN_S)
    # Files ending in .pth there are not looked at, so the clone that is installed in place stays out of reach.
    libraries = next(path for path in sys.path if path.endswith("site-packages"))
    next((place / "venv/lib").glob("python3*/site-packages")).joinpath("libraries.pth").write_text(libraries)
    return place


def run(away: Path, *words: str) -> str:
    done = subprocess.run(
        [away / "venv/bin/kettleside", *words], cwd=away, capture_output=True, text=True, timeout=WITHIN_S, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_wheel_has_every_file_that_the_program_opens(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    assert shipped("monitor") | shipped("dashboard") <= names
    assert {f"{SHARED}{name}" for name in shipped("firmware_notes")} <= names
    assert sum(name.startswith(f"{SHARED}recordings/") and name.endswith(".cook") for name in names) == 3
    assert not [name for name in names if "decisions" in name or name.startswith("tests")]


def test_each_borrowed_script_comes_with_its_licence(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    borrowed = {name for name in names if re.search(r"assets/\d\d-.*LICENSE\.txt$", name) and "/licenses/" not in name}
    assert len(borrowed) == 2
    told = {name.partition("/licenses/")[2] for name in names if "/licenses/" in name}
    assert told == {"LICENSE", *borrowed}


def test_the_sdist_makes_the_same_wheel(source: Path, wheel: Path, tmp_path: Path) -> None:
    sdist = build(source, "sdist", tmp_path / "sdist")
    with tarfile.open(sdist) as archive:
        archive.extractall(tmp_path / "unpacked", filter="data")
    again = build(next((tmp_path / "unpacked").iterdir()), "wheel", tmp_path / "wheel")
    assert sorted(zipfile.ZipFile(again).namelist()) == sorted(zipfile.ZipFile(wheel).namelist())


def test_a_whole_invented_cook_runs_from_the_wheel(away: Path) -> None:
    where = subprocess.run(
        [away / "venv/bin/python", "-c", "import monitor, dashboard; print(monitor.__file__, dashboard.__file__)"],
        cwd=away,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert all(path.startswith(str(away)) for path in where.split())
    told = run(away, "demo", "--speed", "900", "--end", "--port", "0", "--recordings", "cooks")
    assert "The invented cook is finished" in told
    assert "invented" in run(away, "list", "--recordings", "cooks")


def test_the_sample_cooks_and_the_firmware_are_copied_from_the_wheel(away: Path) -> None:
    copied = run(away, "files", "--to", "came").splitlines()
    assert {Path(path).relative_to("came").as_posix() for path in copied} >= shipped("firmware_notes")
    assert len(run(away, "list", "--recordings", "came/recordings").splitlines()) >= 3
    assert all(str(away) in path for path in run(away, "files").splitlines())


@pytest.fixture
def served(away: Path) -> Iterator[str]:
    words: Sequence[str] = ("serve", "--recordings", "served", "--make-folder", "--port", "0", "--no-mdns")
    with subprocess.Popen(
        [away / "venv/bin/kettleside", *words],
        cwd=away,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    ) as server:
        assert server.stdout is not None
        try:
            yield next(found[0] for line in server.stdout if (found := re.search(r"http://\S+", line)))
        finally:
            server.send_signal(signal.SIGTERM)
            server.wait(WITHIN_S)


def test_the_pages_are_served_from_the_wheel(served: str) -> None:
    port = re.search(r":(\d+)/", served)
    assert port is not None
    address, key = f"http://127.0.0.1:{port[1]}", served.partition("?")[2]
    # The key is given once, and a cookie after that.
    phone = build_opener(HTTPCookieProcessor())
    for page in (f"/?{key}", "/cooks", "/bench", "/set-up", "/phones", "/kitchen"):
        with phone.open(f"{address}{page}", timeout=20) as answer:
            assert answer.status == 200, page
    with phone.open(f"{address}/cooks", timeout=20) as answer:
        page = answer.read().decode()
    for asset in re.findall(r'(?:src|href)="(/assets/[^"]+)"', page):
        with phone.open(f"{address}{asset}", timeout=20) as answer:
            assert answer.read()
    assert "/assets/" in page
