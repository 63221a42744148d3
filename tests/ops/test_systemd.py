"""The systemd unit and the udev rule: what they say, and what systemd itself says of them."""

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.ops import ServiceRequest, port_name, rule, unit
from monitor.ops.systemd import quoted
from monitor.sources import UsbPort, usb_port

ROOT = Path(__file__).resolve().parents[2]
PORT = UsbPort("/dev/ttyUSB0", "10c4", "ea60", "0001", "1-1.2")
SETTINGS = ("left=serial:///dev/ttyUSB0?baud=9600", "right=mqtt://anna@127.0.0.1/kettleside/right/readings")


def printed(*words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "monitor.cli", "install-service", *words]
    return subprocess.run(command, capture_output=True, text=True, cwd=ROOT, timeout=60, check=False)


def sources(*texts: str) -> list[str]:
    return [word for text in texts for word in ("--source", text)]


def test_install_service_writes_no_file_and_needs_print(tmp_path: Path) -> None:
    done = printed(*sources("rig:"), "--recordings", str(tmp_path / "cooks"))
    assert done.returncode == 2 and "--print" in done.stderr
    done = printed(*sources("rig:"), "--recordings", str(tmp_path / "cooks"), "--print")
    assert done.returncode == 0 and done.stdout.startswith("# Nothing has been written.")
    assert not list(tmp_path.iterdir())


def test_the_paths_are_those_of_this_installation(tmp_path: Path) -> None:
    text = printed(*sources("rig:"), "--recordings", str(tmp_path), "--print", "unit").stdout
    (start,) = re.findall(r"^ExecStart=(.*)$", text, re.MULTILINE)
    words = shlex.split(start)
    assert words[:4] == [sys.executable, "-m", "monitor.cli", "start"]
    assert f"ReadWritePaths={tmp_path}" in text
    assert "StateDirectory=kettleside-state" in text
    # What it starts is a command line that `start` takes.
    import argparse

    from monitor.cli import start as command

    parser = argparse.ArgumentParser()
    command.add_arguments(parser)
    args = parser.parse_args(words[4:])
    assert args.source == ["cooker=rig:"] and args.recordings == tmp_path


def test_a_port_without_a_device_is_reported_and_gets_no_rule() -> None:
    done = printed(*sources("serial:///dev/ttyUSB7"), "--print", "rule")
    assert done.stdout == "" and "/dev/ttyUSB7 is no USB port that is plugged in just now" in done.stderr


def test_the_unit_names_a_credential_and_not_the_secret() -> None:
    text = printed(*sources(*SETTINGS), "--print", "unit").stdout
    assert "password_file=%d/mqtt-password" in text
    assert "LoadCredential=mqtt-password:/etc/kettleside/mqtt-password" in text


def test_several_sources_of_one_cooker_stay_together() -> None:
    words = sources("pot=serial:///dev/ttyUSB0?channel=paste:Cel", "pot=mqtt://anna@host/air?field=t:room:Cel")
    text = printed(*words, "--print", "unit").stdout
    (start,) = re.findall(r"^ExecStart=(.*)$", text, re.MULTILINE)
    found = shlex.split(start)
    assert [found[place + 1] for place, word in enumerate(found) if word == "--source"] == [
        "pot=serial:///dev/ttyUSB0?channel=paste:Cel",
        "pot=mqtt://anna@host/air?field=t:room:Cel&password_file=%d/mqtt-password",
    ]
    assert "SupplementaryGroups=dialout" in text and "LoadCredential=mqtt-password" in text


def test_the_unit_allows_the_serial_port() -> None:
    """systemd.exec(5): PrivateDevices hides ports; ProtectClock implies a DeviceAllow, and so shuts all others out."""
    text = printed(*sources(*SETTINGS), "--print", "unit").stdout
    assert "SupplementaryGroups=dialout" in text
    assert not re.search(r"^(PrivateDevices|DevicePolicy|DeviceAllow|ProtectClock)=", text, re.MULTILINE)
    assert "PrivateDevices=yes" in printed(*sources("rig:"), "--print", "unit").stdout


def test_the_udev_rule_matches_the_serial_number_or_else_the_usb_socket() -> None:
    """udev(7): ``==`` compares, ``+=`` adds; all ATTRS and KERNELS of a line are of one parent device."""
    text = rule([("left", PORT), ("right pot", UsbPort("/dev/ttyUSB1", "1a86", "7523", None, "1-1.3"))])
    lines = [row for row in text.splitlines() if not row.startswith("#")]
    assert 'ATTRS{serial}=="0001"' in lines[0] and "KERNELS" not in lines[0]
    assert 'KERNELS=="1-1.3"' in lines[1] and 'SYMLINK+="kettleside-right-pot"' in lines[1]
    for row in lines:
        assert all(re.fullmatch(r'[A-Z]+(\{\w+\})?(==|\+=|=)"[^"]*"', part) for part in row.split(", "))


def test_a_serial_number_that_would_break_the_rule_is_not_used() -> None:
    text = rule([("left", UsbPort("/dev/ttyUSB0", "10c4", "ea60", '1", RUN+="/bin/sh', "1-1"))])
    assert "RUN" not in text and 'KERNELS=="1-1"' in text


def test_a_device_that_is_not_on_usb_gives_no_port() -> None:
    assert usb_port("/dev/null") is None


@given(st.text(st.characters(exclude_categories=["C", "Z"]), max_size=20))
def test_quoting_escapes_specifiers_and_quotation_marks(word: str) -> None:
    text = quoted(word)
    assert not re.search(r"(?<!%)%(%%)*(?!%)", text) and not re.search(r"(?<!\$)\$(\$\$)*(?!\$)", text)
    assert (
        re.sub(r"\\(.)", r"\1", text[1:-1] if text.startswith('"') else text).replace("%%", "%").replace("$$", "$")
        == word
        or "\\" in word
    )


def test_port_names_hold_plain_characters_only() -> None:
    assert port_name("Töpfe ../../x") == "kettleside-T-pfe-x"


@pytest.mark.service
@pytest.mark.parametrize(
    "words",
    [
        sources("rig:"),
        sources(*SETTINGS),
        sources('left=mqtt://anna@127.0.0.1/a b/100%/$x"\\/readings', "right=rig:"),
        [*sources(*SETTINGS), "--personal"],
    ],
    ids=["rig", "serial and broker", "odd names", "own account"],
)
def test_systemd_accepts_the_unit(words: list[str], tmp_path: Path) -> None:
    path = tmp_path / "kettleside.service"
    path.write_text(printed(*words, "--print", "unit").stdout)
    done = subprocess.run(["systemd-analyze", "verify", "--man=no", path], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.service
def test_systemd_reports_an_invalid_unit(tmp_path: Path) -> None:
    """So that the test above can fail."""
    path = tmp_path / "kettleside.service"
    path.write_text(printed(*sources("rig:"), "--print", "unit").stdout.replace("KillMode=mixed", "KillMode=gently"))
    done = subprocess.run(["systemd-analyze", "verify", "--man=no", path], capture_output=True, text=True, check=False)
    assert "kill mode" in done.stderr


@pytest.mark.service
@pytest.mark.parametrize("source", ["rig:", "serial:///dev/ttyUSB0"])
def test_systemd_rates_the_unit_well_confined(source: str, tmp_path: Path) -> None:
    """systemd-analyze security rates from 0 (confined) to 10; below 2.5 is "OK" by its own words."""
    path = tmp_path / "kettleside.service"
    path.write_text(printed(*sources(source), "--print", "unit").stdout)
    command = ["systemd-analyze", "security", "--offline=true", "--threshold=25", str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-200:]


def test_a_personal_unit_needs_no_system_privileges() -> None:
    wanted = ServiceRequest(("/bin/true",), Path("/tmp/x"), of_person=True, password=None, serial=True, homes=True)
    text = unit(wanted)
    assert "User=" not in text and "ProtectSystem" not in text and "WantedBy=default.target" in text
