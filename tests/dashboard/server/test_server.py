"""The serving process: its port, its invitation, its end."""

import os
import select
import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from dashboard.auth.access_control import DashboardError
from dashboard.serve import base_url, qr_invitation, serve

SERVE = (
    "import sys; from pathlib import Path; from dashboard.serve import serve; "
    "serve(Path(sys.argv[1]), host='127.0.0.1', port=0, announce=lambda words: print(words, flush=True))"
)


def test_a_port_in_use_is_reported_in_one_sentence(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(DashboardError, match=f"^Cannot listen on port {port} of 127.0.0.1: .*in use\\.$"):
            serve(tmp_path, host="127.0.0.1", port=port, announce=print)


@pytest.mark.parametrize(("host", "port"), [("127.0.0.1", 70_000), ("127.0.0.1", -1), ("no.such.host.invalid", 80)])
def test_an_invalid_host_or_port_is_reported_in_one_sentence(tmp_path: Path, host: str, port: int) -> None:
    with pytest.raises(DashboardError) as caught:
        serve(tmp_path, host=host, port=port, announce=print)
    assert str(caught.value).endswith(".") and "\n" not in str(caught.value)


def test_the_invitation_has_the_address_and_a_qr_code() -> None:
    url = base_url("192.0.2.7", 8050)
    assert url == "http://192.0.2.7:8050"
    lines = qr_invitation(url).splitlines()
    assert url in lines[0]
    # Compact drawing: two rows of squares a line, and all lines are equally wide.
    assert len({len(line) for line in lines[1:] if line}) == 1
    assert base_url("::1", 80, secure=True) == "https://[::1]:80"
    assert "0.0.0.0" not in base_url("0.0.0.0", 80)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_the_server_serves_and_ends_cleanly(tmp_path: Path, number: int) -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", SERVE, str(tmp_path)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[3])},
    )
    with process:
        assert process.stdout is not None and process.stderr is not None
        assert select.select([process.stdout], [], [], 30)[0]
        url = process.stdout.readline().split()[-1]
        with urllib.request.urlopen(url.split("?")[0] + "healthz") as answer:
            assert answer.read() == b"alive\n"
        process.send_signal(number)
        process.stdout.read()
        assert process.wait(20) == 0
        assert "Traceback" not in process.stderr.read()


def test_numpy_starts_no_thread_for_linear_algebra() -> None:
    """numpy's linear algebra would start a thread for each further core."""
    words = "import os, monitor.session.library, numpy; numpy.ones((500, 500)) @ numpy.ones((500, 500)); "
    words += "print(len(os.listdir('/proc/self/task')))"
    environ = {name: value for name, value in os.environ.items() if "THREADS" not in name}
    told = subprocess.run([sys.executable, "-c", words], env=environ, capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "1"
