"""What ``doctor`` finds, each thing broken for real."""

import os
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from monitor.ops import Finding, FindingState
from monitor.ops.diagnostics.channels import check_channels
from monitor.ops.diagnostics.machine import check_clock, check_disk, check_libraries, clock_is_synchronised
from monitor.ops.diagnostics.recordings import check_loggers, check_permissions, check_recordings
from monitor.ops.diagnostics.sources import check_broker
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime import SystemClock
from monitor.runtime.clock import JumpClock
from monitor.storage import Recorder, fold
from tests.accounts import library_path, open_python, other_account
from tests.cli.processes import until
from tests.dashboard.seeded import Maker
from tests.sources.mosquitto import Mosquitto, free_port
from tests.sources.polling import Terminal

ROOT = Path(__file__).resolve().parents[2]


def doctor(folder: Path, *words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "monitor.cli", "doctor", "--recordings", str(folder), *words]
    env = {**os.environ, **environment}
    return subprocess.run(command, capture_output=True, text=True, cwd=ROOT, env=env, timeout=60, check=False)


def only(findings: list[Finding]) -> Finding:
    (found,) = findings
    return found


def test_a_fit_machine_passes_every_check(tmp_path: Path) -> None:
    terminal = Terminal()
    Maker(tmp_path, hours=0.01).finish()
    done = doctor(tmp_path, "--source", f"serial://{terminal.path}")
    terminal.close()
    assert done.returncode == 0, done.stdout
    assert "wrong" not in done.stdout and done.stderr == ""
    for about in ("port", "clock", "disk", "pairing", "versions", "recordings", "logger"):
        assert f" {about}: " in done.stdout


def test_a_running_cook_without_a_paste_channel_is_reported(tmp_path: Path) -> None:
    clock = SystemClock()
    recorder = Recorder.create(tmp_path, clock.anchor(), rig="left", source="serial:///dev/nowhere")
    for ago_s in range(150, 0, -1):
        record = SenmlRecord("temp1", "C", 90.0 + 0.01 * (ago_s % 5), None, None)
        recorder.add_pack(Pack((record,), clock.now() - ago_s, None, None))
    recorder.commit()
    recorder.abandon()
    (found,) = check_channels(tmp_path)
    assert found.state is FindingState.WRONG and found.text.endswith("start again with --as temp1=paste.")
    assert "temp1 in C (90 °C) arrives" in found.text


def test_problems_are_counted_and_give_exit_status_1(tmp_path: Path) -> None:
    (tmp_path / "wreck.cook").write_bytes(b"no recording at all")
    done = doctor(tmp_path, "--source", "serial:///dev/nowhere")
    assert done.returncode == 1
    assert "2 of these need doing before a cook." in done.stdout
    assert "wrong  port: /dev/nowhere is not there. Plug the rig in" in done.stdout
    assert (
        f"wreck.cook cannot be read: it is not a recording. Try what is left of it: kettleside import {tmp_path}"
        in done.stdout
    )


def test_an_invalid_source_is_wrong_usage(tmp_path: Path) -> None:
    done = doctor(tmp_path, "--source", "seral:///dev/ttyUSB0")
    assert done.returncode == 2 and done.stderr.count("\n") == 1


def as_another(folder: Path, code: str) -> str:
    """What Python says as an account without rights; root may do anything, so it has to become somebody else."""
    done = subprocess.run(
        [open_python(), "-B", "-c", code],
        capture_output=True,
        text=True,
        cwd="/",
        env={"PYTHONPATH": library_path()},
        check=False,
        **other_account(),  # type: ignore[call-overload]
    )
    assert done.returncode == 0, done.stderr
    return str(done.stdout)


def test_a_port_without_permission_names_the_group_to_join(tmp_path: Path) -> None:
    terminal = Terminal()
    # As a real port stands: for its owner and its group.
    Path(terminal.path).chmod(0o660 if os.geteuid() == 0 else 0o060)
    said = as_another(
        tmp_path, f"from monitor.ops.diagnostics.sources import check_port\nprint(check_port({terminal.path!r}).line())"
    )
    terminal.close()
    assert said.startswith("wrong  port: Your account has no right to use")
    assert "sudo usermod -aG " in said and "log in anew" in said


def test_a_port_whose_group_has_no_permission_is_reported(tmp_path: Path) -> None:
    terminal = Terminal()
    Path(terminal.path).chmod(0o600 if os.geteuid() == 0 else 0o000)
    said = as_another(
        tmp_path, f"from monitor.ops.diagnostics.sources import check_port\nprint(check_port({terminal.path!r}).line())"
    )
    terminal.close()
    assert "sudo chmod g+rw" in said


def test_a_full_disk_and_one_that_will_fill_are_reported(tmp_path: Path) -> None:
    free_mb = shutil.disk_usage(tmp_path).free / 1e6
    assert check_disk(tmp_path, 0.0, 0.0).state is FindingState.WELL
    assert check_disk(tmp_path, 0.0, free_mb * 10).state is FindingState.NOTE
    full = check_disk(tmp_path, free_mb * 10, free_mb * 20)
    assert full.state is FindingState.WRONG and "Make room" in full.advice
    assert not list(tmp_path.iterdir())


def test_a_folder_that_cannot_be_written_is_reported(tmp_path: Path) -> None:
    shut = tmp_path / "cooks"
    shut.mkdir(mode=0o500)
    tmp_path.chmod(0o755)
    for way in [*tmp_path.parents][:3]:
        way.chmod(0o755)
    shut.chmod(0o555)
    code = f"from pathlib import Path\nfrom monitor.ops.diagnostics.machine import check_disk\nprint(check_disk(Path({str(shut)!r})).line())"
    assert "cannot be written (permission denied)" in as_another(tmp_path, code)


def test_a_clock_that_was_set_during_the_cook_is_reported(tmp_path: Path) -> None:
    now = SystemClock().anchor()
    recorder = Recorder.create(tmp_path, now, rig="cooker", source="serial://auto")
    recorder.close()
    assert only(check_clock(tmp_path, now, True)).state is FindingState.WELL
    forward = only(check_clock(tmp_path, replace(now, wall=now.wall + 3600.0), True))
    assert forward.state is FindingState.NOTE and "set forward by 60 min during the running cook" in forward.text
    back = check_clock(tmp_path, replace(now, wall=now.wall - 3600.0), True)
    assert [finding.state for finding in back] == [FindingState.NOTE, FindingState.WRONG]
    assert "stands 60 min before the last recording" in back[1].text


def test_an_unsynchronised_clock_is_reported(tmp_path: Path) -> None:
    found = only(check_clock(tmp_path, SystemClock().anchor(), False))
    assert found.state is FindingState.NOTE and "timedatectl set-ntp true" in found.advice


@pytest.mark.parametrize(
    ("script", "synchronised"), [("echo yes", True), ("echo no", False), ("echo no bus >&2; exit 1", None), ("", None)]
)
def test_clock_synchronisation_is_asked_of_systemd(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, script: str, synchronised: bool | None
) -> None:
    """timedatectl(1): show --property=NTPSynchronized --value prints yes or no; without systemd nothing is known."""
    if script:
        program = tmp_path / "timedatectl"
        program.write_text(f'#!/bin/sh\n[ "$*" = "show --property=NTPSynchronized --value" ] || exit 9\n{script}\n')
        program.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert clock_is_synchronised() is synchronised


def test_a_clock_of_unknown_synchronisation_is_not_called_synchronised(tmp_path: Path) -> None:
    found = only(check_clock(tmp_path, SystemClock().anchor(), None))
    assert found.state is FindingState.WELL and "not known here" in found.text


def test_a_wrong_library_version_and_a_missing_library_are_reported(tmp_path: Path) -> None:
    """Found first on the path, as a second installation in a home is."""
    fake = tmp_path / "waitress-1.0.dist-info"
    fake.mkdir()
    (fake / "METADATA").write_text("Metadata-Version: 2.1\nName: waitress\nVersion: 1.0\n")
    done = doctor(tmp_path / "cooks", PYTHONPATH=str(tmp_path))
    assert done.returncode == 1
    assert "wrong  versions: waitress is 1.0, and kettleside" in done.stdout and "needs <4,>=3" in done.stdout
    assert only(check_libraries("a-name-that-nobody-has")).state is FindingState.WRONG


@pytest.mark.parametrize(("name", "mode"), [("pairing-key", 0o644), ("pairing-key", 0o620), ("notices.toml", 0o604)])
def test_a_secret_that_others_may_read_is_reported(tmp_path: Path, name: str, mode: int) -> None:
    folder = tmp_path / ".kettleside"
    folder.mkdir(mode=0o700)
    (folder / name).write_text("secret")
    (folder / name).chmod(0o600)
    assert only(check_permissions(tmp_path)).state is FindingState.WELL
    (folder / name).chmod(mode)
    found = only(check_permissions(tmp_path))
    assert found.state is FindingState.WRONG and f"chmod 600 {folder / name}" in found.advice
    (folder / name).chmod(0o600)
    folder.chmod(0o755)
    assert f"chmod 700 {folder}" in only(check_permissions(tmp_path)).advice


def test_secrets_of_another_account_are_a_note_and_not_a_problem(tmp_path: Path) -> None:
    folder = tmp_path / ".kettleside"
    folder.mkdir(mode=0o700)
    (folder / "pairing-key").write_text("secret")
    for way in (tmp_path, *tmp_path.parents[:3]):
        way.chmod(0o755)
    if os.geteuid() != 0:
        folder.chmod(0o000)
    code = f"from pathlib import Path\nfrom monitor.ops.diagnostics.recordings import check_permissions\nprint(check_permissions(Path({str(tmp_path)!r}))[0].line())"
    said = as_another(tmp_path, code)
    folder.chmod(0o700)
    assert said.startswith("note   pairing: ") and "sudo -u kettleside kettleside doctor" in said


def test_a_recording_with_a_damaged_page_is_reported(tmp_path: Path) -> None:
    """SQLite's own quick_check is what finds it."""
    maker = Maker(tmp_path, hours=0.5)
    maker.finish()
    fold(maker.path)
    assert only(check_recordings(tmp_path)).state is FindingState.WELL
    data = bytearray(maker.path.read_bytes())
    middle = len(data) // 2 // 4096 * 4096
    data[middle : middle + 4096] = b"\xff" * 4096
    maker.path.write_bytes(data)
    progress: list[tuple[int, int]] = []
    found = only(check_recordings(tmp_path, lambda done, total: progress.append((done, total))))
    assert found.state is FindingState.WRONG and progress == [(1, 1)]


def test_a_running_logger_and_an_outdated_one_are_told_apart(tmp_path: Path) -> None:
    program = tmp_path / "program"
    program.mkdir()
    (program / "logger.py").touch()
    os.utime(program / "logger.py", (0, 0))
    cooks = tmp_path / "cooks"
    command = [
        sys.executable,
        "-m",
        "monitor.cli",
        "log",
        "--source",
        "serial:///dev/nowhere",
        "--recordings",
        str(cooks),
    ]

    def looked() -> Finding:
        now = SystemClock().anchor()
        return only(check_loggers(cooks, program, now.wall, now.boot_s))

    assert looked().text == "None runs now."
    with subprocess.Popen(command, cwd=ROOT, stderr=subprocess.DEVNULL) as logger:
        until(lambda: "One records the cooker cooker now" in looked().text)
        assert f"process {logger.pid}" in looked().text
        later = SystemClock().anchor().wall + 60.0
        os.utime(program / "logger.py", (later, later))
        assert looked().state is FindingState.WRONG and f"kill {logger.pid}" in looked().advice
        logger.terminate()
    assert looked().text == "None runs now."


def test_an_unreachable_broker_is_reported() -> None:
    from monitor.sources import parse_source_url

    found = check_broker(parse_source_url(f"mqtt://127.0.0.1:{free_port()}/kettleside/a/readings"), SystemClock())
    assert found.state is FindingState.WRONG and "refuses the connection; is it running?" in found.text


@pytest.mark.broker
def test_a_broker_that_accepts_and_one_that_refuses_the_password(tmp_path: Path) -> None:
    passwords = tmp_path / "passwords"
    passwords.write_text("")
    subprocess.run(["mosquitto_passwd", "-b", passwords, "anna", "sesame"], check=True, capture_output=True)
    broker = Mosquitto(tmp_path, "allow_anonymous false", f"password_file {passwords}").start()
    source = f"mqtt://anna@127.0.0.1:{broker.port}/kettleside/a/readings"
    try:
        right = doctor(tmp_path, "--source", source, KETTLESIDE_MQTT_PASSWORD="sesame")
        wrong = doctor(tmp_path, "--source", source, KETTLESIDE_MQTT_PASSWORD="open")
    finally:
        broker.stop()
    assert "well   broker: 127.0.0.1 answers and takes us." in right.stdout and right.returncode == 0
    assert "refuses the user anna with this password. Set the password" in wrong.stdout and wrong.returncode == 1
    assert "sesame" not in right.stdout + wrong.stdout


def test_the_clock_of_a_demo_is_ignored(tmp_path: Path) -> None:
    """A cook faster than life has a clock of its own."""
    Maker(tmp_path, JumpClock(4e9), hours=0.01, rate=90.0).recorder.close()
    assert only(check_clock(tmp_path, SystemClock().anchor(), True)).state is FindingState.WELL
