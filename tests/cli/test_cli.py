"""The command line: every command is listed, documented, quick to help, and reports wrong usage in one sentence."""

import re
import resource
import subprocess
import sys
import tomllib
from importlib import import_module
from pathlib import Path

import pytest

from monitor.cli import COMMANDS, main

ROOT = Path(__file__).resolve().parents[2]
# Interfaces, section 5, as far as the program has them.
PROMISED = ("demo", "start", "log", "serve", "stream", "rig", "list", "show", "export", "import")


def run(*words: str, **options: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "monitor.cli", *words]
    return subprocess.run(command, capture_output=True, text=True, cwd=ROOT, timeout=60, check=False)


@pytest.mark.parametrize("name", PROMISED)
def test_every_documented_command_exists(name: str) -> None:
    assert name in COMMANDS


def test_every_command_module_is_listed() -> None:
    modules = {
        path.stem for path in (ROOT / "monitor/cli").glob("[!_]*.py") if "\nHELP = " in path.read_text(encoding="utf-8")
    }
    assert modules == {module for module, _ in COMMANDS.values()}


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_has_its_three_parts(name: str) -> None:
    module = import_module(f"monitor.cli.{COMMANDS[name][0]}")
    assert module.HELP and callable(module.add_arguments) and callable(module.run)


@pytest.mark.parametrize("name", [name for name, (_, line) in COMMANDS.items() if line])
def test_the_manual_names_every_command(name: str) -> None:
    assert f"kettleside {name}" in (ROOT / "dashboard" / "manual" / "commands.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("words", [(), *((name,) for name in COMMANDS)], ids=lambda words: " ".join(words) or "alone")
def test_help_comes_in_a_quarter_of_a_second(words: tuple[str, ...]) -> None:
    # Of the processor, so that what else the machine does just now does not count.
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = run(*words, "--help")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert done.returncode == 0 and done.stderr == ""
    assert f"usage: {' '.join(['kettleside', *words])}" in done.stdout
    assert after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime < 0.25


def test_the_overview_imports_no_command() -> None:
    code = "import sys, monitor.cli\ntry: monitor.cli.main(['--help'])\nexcept SystemExit: pass\nprint(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    loaded = done.stdout.splitlines()[-1].split()
    assert not [name for name in loaded if name.startswith("monitor.cli.")]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ((), "name a command"),
        (("lgo",), "there is no command 'lgo'; the nearest is 'log'"),
        (("log",), "--source"),
        (("log", "--source", "seral:///dev/ttyUSB0"), "the nearest is 'serial'"),
        (("log", "--source", "mqtt://a:sesame@b/c"), "a password does not belong on the command line"),
        (("log", "--source", "serial://auto", "--batch", "/nowhere.toml"), "no such file"),
        (("log", "--source", "serial://auto", "--columns", "paste"), "each part is NAME:UNIT"),
        (("log", "--source", "serial://auto", "--rig", "a/b"), "letters, digits"),
        (("log", "--source", "serial://auto", "--frobnicate"), "--frobnicate"),
        (("serve", "--port", "eighty"), "port"),
        (("start", "--source", "mqtt://broker"), "no topic filter"),
    ],
)
def test_wrong_usage_is_reported_in_one_sentence_with_status_2(words: tuple[str, ...], why: str) -> None:
    done = run(*words)
    assert done.returncode == 2
    assert why in done.stderr and done.stderr.count("\n") == 1 and "Traceback" not in done.stderr
    assert done.stdout == "" and "sesame" not in done.stderr


def test_an_unknown_key_in_the_batch_sheet_is_named(tmp_path: Path) -> None:
    sheet = tmp_path / "batch.toml"
    sheet.write_text("titel = 'Soap'\n")
    done = run("log", "--source", "serial://auto", "--batch", str(sheet), "--recordings", str(tmp_path / "cooks"))
    assert done.returncode == 2
    assert "'titel'" in done.stderr and "'title'" in done.stderr
    assert not (tmp_path / "cooks").exists()


def test_a_folder_that_cannot_be_written_is_reported_in_one_sentence_with_status_1(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    done = run("log", "--source", "serial:///dev/nowhere", "--recordings", str(tmp_path / "file" / "cooks"))
    assert done.returncode == 1
    assert re.fullmatch(r"kettleside: .*\.\n", done.stderr) and "Traceback" not in done.stderr


def test_the_version_is_that_of_pyproject() -> None:
    """It is written once, in pyproject.toml."""
    written = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
    assert run("--version").stdout == f"kettleside {written}\n"


def test_an_interrupt_prints_no_traceback(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def interrupted(argv: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr("monitor.cli._run", interrupted)
    assert main(["log"]) == 130
    assert capsys.readouterr().err == ""


def test_a_closed_output_pipe_is_no_failure() -> None:
    command = f"{sys.executable} -m monitor.cli --help | true"
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, cwd=ROOT, check=False)
    assert done.stderr == ""
