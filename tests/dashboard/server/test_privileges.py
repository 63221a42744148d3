"""Which user serves the pages, and what stays out of the log. Real processes; as nobody where the tests have root."""

import os
import pwd
import re
import select
import shutil
import stat
import subprocess
import sys
import tempfile
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from http.cookiejar import CookieJar
from pathlib import Path

import pytest

from dashboard.auth.access_control import DashboardError, pairing_key
from dashboard.server.privileges import drop_privileges
from tests.accounts import library_path, open_python

ROOT = Path(__file__).resolve().parents[3]
COOK = "2026-05-02T090000Z-invented-smooth"
HAS_ROOT = os.geteuid() == 0


@pytest.fixture
def folder() -> Iterator[Path]:
    """Recordings that everyone may read, in a place that everyone reaches."""
    made = Path(tempfile.mkdtemp())
    shutil.copy(ROOT / "recordings" / f"{COOK}.cook", made)
    made.chmod(0o755)
    yield made
    made.chmod(0o755)
    shutil.rmtree(made)


@dataclass
class Serving:
    """A real serving process. line: what it first said; said: all it said, once it has ended."""

    process: subprocess.Popen[str]
    line: str
    said: str = ""


@contextmanager
def serving(folder: Path, *options: str, user: str | None = None, journal: bool = False) -> Iterator[Serving]:
    environment = {**os.environ, "PYTHONPATH": library_path(), "PYTHONDONTWRITEBYTECODE": "1", "HOME": "/"}
    environment |= {"JOURNAL_STREAM": "8:1"} if journal else {}
    command = [open_python(), "-m", "monitor.cli", "serve", "--host", "127.0.0.1", "--port", "0"]
    with subprocess.Popen(
        [*command, "--recordings", str(folder), *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd="/",
        env=environment,
        user=user,
        group=None if user is None else pwd.getpwnam(user).pw_gid,
        extra_groups=None if user is None else [],
    ) as process:
        assert process.stdout is not None and process.stderr is not None
        made = Serving(process, "")
        try:
            assert select.select([process.stdout], [], [], 60)[0]
            made.line = process.stdout.readline()
            assert made.line, process.stderr.read()
            yield made
        finally:
            process.terminate()
            made.said = made.line + "".join(process.communicate(timeout=30))


def opener() -> urllib.request.OpenerDirector:
    return urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))


def uid_of(process: subprocess.Popen[str]) -> list[int]:
    status = Path(f"/proc/{process.pid}/status").read_text(encoding="ascii")
    found = re.search(r"^Uid:\s+(.*)$", status, re.MULTILINE)
    assert found is not None
    return [int(number) for number in found.group(1).split()]


def test_a_read_only_folder_is_served(folder: Path) -> None:
    folder.chmod(0o555)
    before = {path.name: path.stat().st_mtime_ns for path in folder.iterdir()}
    with serving(folder, user="nobody" if HAS_ROOT else None) as kettle:
        phone = opener()
        with phone.open(kettle.line.split()[-1]) as answer:
            assert answer.status == 200 and "key=" not in answer.url
        base = kettle.line.split()[-1].split("?")[0]
        for path in ("cooks", f"cooks/{COOK}", f"record/{COOK}", "bench", "phones"):
            with phone.open(base + path) as answer:
                assert answer.status == 200, path
        if HAS_ROOT:
            assert uid_of(kettle.process) == [pwd.getpwnam("nobody").pw_uid] * 4
    assert "paired anew each time" in kettle.said
    assert {path.name: path.stat().st_mtime_ns for path in folder.iterdir()} == before


def test_root_changes_to_the_named_user(folder: Path) -> None:
    if not HAS_ROOT:
        with pytest.raises(DashboardError, match="cannot become nobody"):
            drop_privileges("nobody")
        return
    nobody = pwd.getpwnam("nobody")
    os.chown(folder, nobody.pw_uid, nobody.pw_gid)
    with serving(folder, "--user", "nobody") as kettle:
        assert uid_of(kettle.process) == [nobody.pw_uid] * 4
        with opener().open(kettle.line.split()[-1]) as answer:
            assert answer.status == 200
        key = folder / ".kettleside" / "pairing-key"
        assert key.stat().st_uid == nobody.pw_uid and stat.S_IMODE(key.stat().st_mode) == 0o600
    assert "by root" not in kettle.said


def test_a_program_the_user_cannot_read_is_reported_in_one_sentence(folder: Path) -> None:
    if not HAS_ROOT:
        # Who is already that user has been reading the program all along.
        drop_privileges(pwd.getpwuid(os.getuid()).pw_name)
        return
    program = folder / "program"
    for part in ("dashboard", "monitor"):
        shutil.copytree(ROOT / part, program / part, ignore=shutil.ignore_patterns("__pycache__"))
    program.chmod(0o700)
    done = subprocess.run(
        [open_python(), "-m", "monitor.cli", "serve", "--port", "0", "--recordings", folder, "--user", "nobody"],
        capture_output=True,
        text=True,
        cwd="/",
        env={"PYTHONPATH": f"{program}{os.pathsep}{library_path()}", "PYTHONDONTWRITEBYTECODE": "1"},
        check=False,
    )
    assert done.returncode == 1
    assert re.fullmatch(r"[^\n]*The user nobody cannot read \S+, which is part of [^\n]+\.\n", done.stderr)


def test_serving_as_root_is_warned_of(folder: Path) -> None:
    with serving(folder) as kettle:
        pass
    assert ("served by root" in kettle.said) == HAS_ROOT


@pytest.mark.parametrize("name", ["root", "no-such-user", "", "x" * 300])
def test_an_unsuitable_user_is_reported_in_one_sentence(name: str) -> None:
    with pytest.raises(DashboardError, match=r"^[^\n]+\.$"):
        drop_privileges(name)


def test_the_key_is_in_no_log(folder: Path) -> None:
    key = pairing_key(folder)
    with serving(folder, journal=True) as kettle:
        base = kettle.line.split()[4].rstrip(";") + "/"
        phone = opener()
        for path in (
            f"?key={key}",
            f"cooks?key={key}",
            f"nowhere?key={key}",
            f"at?cook=%00&t=x&key={key}",
            f"?key={key}x",
        ):
            try:
                with phone.open(base + path) as answer:
                    assert key not in answer.url and key not in answer.read().decode("utf-8", "replace")
            except urllib.error.HTTPError as error:
                assert error.code < 500
                assert key not in error.read().decode()
        phones = subprocess.run(
            [sys.executable, "-m", "monitor.cli", "phones", "--recordings", str(folder)],
            capture_output=True, text=True, check=True, cwd=ROOT,
        )  # fmt: skip
        assert "looks and logs" in phones.stdout
    assert key not in kettle.said and "phones --invite" in kettle.said


@pytest.mark.long
def test_the_command_pairs_lists_and_revokes(folder: Path) -> None:
    def phones(*options: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "monitor.cli", "phones", "--recordings", str(folder), *options]
        return subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT)

    assert "No phone is paired" in phones().stdout
    assert phones("--invite").returncode == 1
    with serving(folder) as kettle:
        base = kettle.line.split()[-1].split("?")[0]
        key = kettle.line.split()[-1].partition("?key=")[2]
        invited = phones("--invite").stdout
        assert kettle.line.split()[-1] in invited
        phone = opener()
        own = {"Origin": base.rstrip("/")}
        with phone.open(urllib.request.Request(base + "pair", f"key={key}".encode(), own)) as answer:
            assert answer.status == 200
        link = phones("--look", "Aunt", "--hours", "2").stdout.split()[-1]
        looker = opener()
        with looker.open(link) as answer:
            assert answer.url == base
        listed = phones().stdout.splitlines()
        assert len(listed) == 2 and "looks and logs" in listed[0] and "Aunt: looks, since" in listed[1]
        for who, line_of in ((phone, listed[0]), (looker, listed[1])):
            assert phones("--shut-out", line_of.split()[0]).returncode == 0
            with pytest.raises(urllib.error.HTTPError, match="401") as refused:
                who.open(base)
            refused.value.close()
        assert phones("--shut-out", "00000000").returncode == 1
