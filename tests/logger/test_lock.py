"""One logger a rig, and what its lock tells other processes."""

import errno
from functools import partial
from pathlib import Path

import pytest

from monitor.logger.lock import LoggerLock, SecondLoggerError
from monitor.notifications.store import logger_port
from monitor.storage import load
from tests.logger.scripted import START, Run, pack


def test_a_second_logger_of_the_same_cooker_is_refused(tmp_path: Path) -> None:
    run = Run(tmp_path)
    run.stop.set()
    with LoggerLock(tmp_path, "cooker", run.stop):
        with pytest.raises(SecondLoggerError, match="Another logger already records the cooker cooker in"):
            run.record()
        Run(tmp_path).record(rig="shed")


def test_the_lock_names_the_port_in_use(tmp_path: Path) -> None:
    run, noted = Run(tmp_path), list[str | None]()

    def turn(port: str | None) -> None:
        run.source.port = port

    def look() -> None:
        noted.append(logger_port(tmp_path, "cooker"))

    ports = (None, "/dev/ttyUSB0", None, "/dev/ttyACM1")
    steps = [(START + 3 * at + more, what) for at, port in enumerate(ports) for more, what in ((0, port), (2, look))]
    run.record(*((at, what if callable(what) else partial(turn, what)) for at, what in steps))
    assert noted == list(ports)
    assert logger_port(tmp_path, "cooker") is None


def test_a_port_that_cannot_be_written_to_the_lock_is_no_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("monitor.logger.lock.os.pwrite", full)
    run = Run(tmp_path)
    run.source.port = "/dev/ttyUSB0"
    run.record((START, pack(60.0, START, seq=0)), (START + 1, pack(61.0, START + 1, seq=1)))
    assert len(load(run.cooks[0]).series["paste"]) == 2
