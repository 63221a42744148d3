"""Completion in a real bash, and a manual page that man(1) takes without a warning."""

import subprocess
from pathlib import Path

import pytest

from monitor.cli import COMMANDS, main

WITHIN_S = 30
COMPLETE = 'source "$1"; shift; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); '
COMPLETE += '"$(complete -p kettleside | sed "s/.*-F \\([^ ]*\\).*/\\1/")"; printf "%s\\n" "${COMPREPLY[@]}"'


@pytest.fixture
def bash(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    assert main(["completion", "bash"]) == 0
    script = tmp_path / "kettleside"
    script.write_text(capsys.readouterr().out, encoding="utf-8")
    return script


def completed(script: Path, *words: str) -> set[str]:
    """What bash offers for the last of the words."""
    command = ["bash", "--norc", "-c", COMPLETE, "bash", str(script), *words]
    done = subprocess.run(command, cwd=script.parent, capture_output=True, text=True, check=True, timeout=WITHIN_S)
    assert done.stderr == ""
    return set(done.stdout.split())


def test_bash_completes_commands_options_and_values(bash: Path) -> None:
    assert completed(bash, "kettleside", "") >= {name for name, (_, line) in COMMANDS.items() if line}
    assert completed(bash, "kettleside", "dem") == {"demo"}
    assert completed(bash, "kettleside", "demo", "--sp") == {"--speed"}
    assert completed(bash, "kettleside", "sums", "alk") == {"alkali"}
    assert completed(bash, "kettleside", "completion", "b") == {"bash"}


def test_bash_completes_files_where_a_path_is_wanted(bash: Path) -> None:
    (bash.parent / "batch.toml").touch()
    (bash.parent / "batches").mkdir()
    assert "batch.toml" in completed(bash, "kettleside", "log", "--batch", "bat")
    assert completed(bash, "kettleside", "list", "--recordings", "bat") == {"batches"}


@pytest.mark.parametrize("shell", ["zsh", "tcsh"])
def test_other_shells_get_every_command(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", shell]) == 0
    script = capsys.readouterr().out
    assert all(name in script for name, (_, line) in COMMANDS.items() if line)


def test_the_manual_page_has_every_command_and_option_once(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["man"]) == 0
    page = capsys.readouterr().out
    for name, (_, line) in COMMANDS.items():
        assert page.count(f"\n.SS kettleside {name}\n".replace("-", "\\-")) == (1 if line else 0)
    assert page.count("\n.B \\-\\-speed N\n") == 2
    assert "virtual\\-clock" not in page


@pytest.mark.long
def test_man_shows_the_page_without_a_warning(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["man"]) == 0
    source = tmp_path / "kettleside.1"
    source.write_text(capsys.readouterr().out, encoding="utf-8")
    done = subprocess.run(
        ["man", "--warnings=w", "-l", str(source)], capture_output=True, text=True, check=True, timeout=WITHIN_S
    )
    assert done.stderr == ""
    assert "kettleside demo" in done.stdout and "times faster than life" in done.stdout
