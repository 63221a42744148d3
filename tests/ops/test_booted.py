"""The service on a machine that really boots: put in place by the printed steps, killed, cut off, stopped."""

import json
import re
from collections.abc import Iterator

import pytest

from tests.ops.booted import Booted

pytestmark = pytest.mark.service
FOLDER = "/var/lib/kettleside"


@pytest.fixture(scope="module")
def machine() -> Iterator[Booted]:
    with Booted() as made:
        printed = made.run("kettleside install-service --source rig: --print")
        # As a person would: line by line, whatever they are.
        for step in re.findall(r"^#   (.*)$", printed, re.MULTILINE):
            made.run('sudo() { "$@"; }\n' + step)
        made.until(lambda: is_well(made), "the page did not answer")
        # Without a batch sheet a cook begins with its first reading.
        made.until(lambda: ".cook" in made.ask(f"ls {FOLDER}"), "no recording began")
        yield made


def is_well(machine: Booted) -> bool:
    ask = "import urllib.request as u; print(u.urlopen('http://127.0.0.1:8050/healthz', timeout=2).status)"
    return machine.ask(f'python3 -c "{ask}"').strip() == "200"


def readings(machine: Booted) -> int:
    """How many readings the one cook has."""
    sql = (
        "import sqlite3,sys; print(sqlite3.connect(sys.argv[1]).execute('SELECT count(*) FROM reading').fetchone()[0])"
    )
    return int(machine.run(f'python3 -c "{sql}" {FOLDER}/*.cook'))


def goes_on(machine: Booted) -> None:
    before = readings(machine)
    machine.until(lambda: readings(machine) > before + 2, "nothing more was recorded")


def show(machine: Booted, name: str) -> str:
    return machine.run(f"systemctl show kettleside --value --property {name}").strip()


def pids(machine: Booted, part: str) -> set[str]:
    return set(machine.ask(f"pgrep --full 'monitor.cli {part} '").split())


def test_the_service_runs_as_an_unprivileged_account(machine: Booted) -> None:
    assert show(machine, "ActiveState") == "active"
    status = machine.run(f"cat /proc/{show(machine, 'MainPID')}/status")
    assert re.search(r"^CapEff:\t0+$", status, re.MULTILINE) and "NoNewPrivs:\t1" in status
    owners = machine.run(f"stat --format '%U %a' {FOLDER}/*.cook {FOLDER}/.kettleside/pairing-key").split("\n")[:2]
    assert owners == ["kettleside 600", "kettleside 600"]
    goes_on(machine)


def test_the_journal_has_severities_and_no_key(machine: Booted) -> None:
    lines = [json.loads(line) for line in machine.run("journalctl -u kettleside -o json").splitlines()]
    own = [line for line in lines if line.get("SYSLOG_IDENTIFIER") == "kettleside"]
    assert any("Records into" in line["MESSAGE"] and line["PRIORITY"] == "6" for line in own)
    key = machine.run(f"cat {FOLDER}/.kettleside/pairing-key").strip()
    assert key and key not in machine.run("journalctl --output cat")
    assert key not in machine.run("ps -e -o args")


@pytest.mark.parametrize("part", ["log", "serve", "notices"])
def test_a_killed_child_is_restarted(machine: Booted, part: str) -> None:
    before = pids(machine, part)
    machine.run(f"kill -9 {' '.join(before)}")
    machine.until(lambda: pids(machine, part) - before and is_well(machine), f"{part} is not back")
    goes_on(machine)
    assert show(machine, "NRestarts") == "0"
    assert "ended by signal 9" in machine.run("journalctl -u kettleside -p warning")


def test_systemd_restarts_the_supervisor(machine: Booted) -> None:
    before = show(machine, "MainPID")
    machine.run(f"kill -9 {before}")
    machine.until(lambda: show(machine, "MainPID") not in ("0", before) and is_well(machine), "it is not back")
    goes_on(machine)
    assert show(machine, "NRestarts") == "1"
    assert all(len(pids(machine, part)) == 1 for part in ("log", "serve", "notices"))


def test_systemd_is_told_that_the_parts_run(machine: Booted) -> None:
    assert (show(machine, "Type"), show(machine, "NotifyAccess")) == ("notify", "main")
    machine.until(
        lambda: show(machine, "StatusText") == "Runs: logger, dashboard, notices.", "systemd was not told of the parts"
    )


def test_the_watchdog_restarts_a_supervisor_that_hangs(machine: Booted) -> None:
    folder = "/run/systemd/system/kettleside.service.d"
    machine.run(f"mkdir -p {folder}; printf '[Service]\nWatchdogSec=3\nTimeoutAbortSec=1\n' > {folder}/soon.conf")
    # Started, systemd says, when all parts run.
    machine.run("systemctl daemon-reload; systemctl restart kettleside")
    before = show(machine, "MainPID")
    goes_on(machine)
    assert show(machine, "MainPID") == before
    machine.run(f"kill -STOP {before}")
    machine.until(lambda: show(machine, "MainPID") not in ("0", before) and is_well(machine), "it still hangs")
    assert "watchdog" in machine.run("journalctl -u kettleside -o cat").lower()
    assert all(len(pids(machine, part)) == 1 for part in ("log", "serve", "notices"))
    machine.run(f"rm -r {folder}; systemctl daemon-reload; systemctl restart kettleside")
    goes_on(machine)


def test_the_cook_resumes_after_a_power_cut(machine: Booted) -> None:
    goes_on(machine)
    had = readings(machine)
    machine.cut_off()
    machine.boot()
    machine.until(lambda: is_well(machine), "the page did not answer")
    # What was stored in the last second may be gone with the current.
    assert readings(machine) >= had - 8
    goes_on(machine)


def test_stopping_the_service_leaves_no_process(machine: Booted) -> None:
    machine.run("systemctl stop kettleside")
    assert (show(machine, "ActiveState"), show(machine, "Result")) == ("inactive", "success")
    assert machine.ask("pgrep --full monitor.cli") == ""
    assert machine.run(f"ls {FOLDER}/*.cook").count(".cook") == 1
    check = "import sqlite3,sys; print(sqlite3.connect(sys.argv[1]).execute('PRAGMA integrity_check').fetchone()[0])"
    assert machine.run(f'python3 -c "{check}" {FOLDER}/*.cook').strip() == "ok"


def test_the_doctor_asks_systemd_whether_the_clock_is_synchronised(machine: Booted) -> None:
    """timedatectl(1) answers here, where systemd runs."""
    clock = [line for line in machine.ask("kettleside doctor").splitlines() if " clock: " in line]
    assert len(clock) == 1 and "not known" not in clock[0]


def test_a_wrong_command_line_is_not_restarted(machine: Booted) -> None:
    unit = "/etc/systemd/system/kettleside.service"
    machine.run(f"sed -i 's/--source cooker=rig:/--source cooker=teapot:/' {unit}; systemctl daemon-reload")
    machine.ask("systemctl start kettleside")
    machine.until(lambda: show(machine, "ActiveState") == "failed", "it did not end")
    assert (show(machine, "NRestarts"), show(machine, "ExecMainStatus")) == ("0", "2")
    assert "teapot" in machine.run("journalctl -u kettleside -p warning -o cat | tail -n 3")
