"""The reference firmware with a real broker: its readings make a cook, and a stir that is due sounds its buzzer."""

import socket
import ssl
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from monitor.model import make_event
from monitor.runtime import SystemClock
from monitor.storage import load, log_event, recordings
from tests.cli.processes import until
from tests.firmware.page import FIRMWARE
from tests.notifications.test_processes import ROOT, command
from tests.sources.mosquitto import Mosquitto
from tests.sources.test_mqtt import make_certificates, openssl

pytestmark = pytest.mark.broker


def test_a_stir_that_is_due_sounds_the_buzzer_of_a_rig_on_wifi(tmp_path: Path) -> None:
    broker, folder, said = Mosquitto(tmp_path).start(), tmp_path / "cooks", tmp_path / "said"
    place = ("--source", f"mqtt://127.0.0.1:{broker.port}/kettleside/pot/readings", "--recordings", str(folder))
    heard = tmp_path / "heard"
    program = [sys.executable, "-m", "tests.firmware.live_board", str(FIRMWARE / "rig.py"), str(broker.port), "pot"]

    def turns() -> list[str]:
        return [line for line in heard.read_text().splitlines() if line.startswith("buzzer")]

    with heard.open("w") as out:
        board = subprocess.Popen(program, stdout=out, stderr=out, stdin=subprocess.DEVNULL, cwd=ROOT)
    try:
        with command(said, "log", "--rig", "pot", *place):
            until(lambda: any(len(load(path).series.get("paste", ())) > 5 for path in recordings(folder)))
            now = SystemClock().now()
            log_event(recordings(folder)[0], make_event("lid", "lid on", now - 2400.0, now))
            with command(said, "notices", *place):
                # Off at the start, then two short.
                until(lambda: turns() == ["buzzer 0", *["buzzer 1", "buzzer 0"] * 2])
                tried = [sys.executable, "-m", "monitor.cli", "notices", "--test", *place]
                done = subprocess.run(tried, capture_output=True, text=True, cwd=ROOT)
                assert "The broker took the test." in done.stdout and "cable" not in done.stdout
                until(lambda: len(turns()) == 7)
            assert board.poll() is None
        assert [event.kind for event in load(recordings(folder)[0]).events] == ["lid on"]
    finally:
        board.kill()
        board.wait()
        broker.stop()
    assert "Traceback" not in heard.read_text() + said.read_text()


# An empty client's CONNECT of MQTT 3.1.1, and the broker's CONNACK that takes it.
CONNECT, TAKEN = b"\x10\x0c\x00\x04MQTT\x04\x02\x00\x3c\x00\x00", b"\x20\x02\x00\x00"


def tls_of_the_rig(authority: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """The part of rig.py that makes a connection safe, over this machine's own ssl."""
    board = ModuleType("time")
    board.__dict__.update(dict.fromkeys(("sleep_ms", "ticks_add", "ticks_diff", "ticks_ms")))
    names: dict[str, Any] = {"__name__": "rig"}
    with monkeypatch.context() as patched:
        patched.setitem(sys.modules, "machine", ModuleType("machine"))
        patched.setitem(sys.modules, "time", board)
        exec((FIRMWARE / "rig.py").read_text(encoding="utf-8"), names)
    names["BROKER_CA"] = str(authority)
    return names["Tls"]()


def test_a_real_broker_is_reached_over_tls_by_its_own_authority_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_certificates(tmp_path)
    for name in ("ca", "broker"):
        # The command of the page.
        openssl("x509", "-in", tmp_path / f"{name}.pem", "-outform", "der", "-out", tmp_path / f"{name}.der")
    sealed = (f"certfile {tmp_path}/broker.pem", f"keyfile {tmp_path}/broker.key")
    broker = Mosquitto(tmp_path, listener=sealed).start()
    place = ("127.0.0.1", broker.port)
    try:
        tls = tls_of_the_rig(tmp_path / "ca.der", monkeypatch)
        with closing(tls.wrap_socket(socket.create_connection(place), "127.0.0.1")) as wire:
            wire.sendall(CONNECT)
            assert wire.recv(4) == TAKEN
        for authority, name in (("ca.der", "another.home.arpa"), ("broker.der", "127.0.0.1")):
            tls = tls_of_the_rig(tmp_path / authority, monkeypatch)
            with closing(socket.create_connection(place)) as plain, pytest.raises(ssl.SSLCertVerificationError):
                tls.wrap_socket(plain, name)
    finally:
        broker.stop()
