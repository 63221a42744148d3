"""``kettleside serve`` on one host, found by name from another; needs what ``HostApart`` needs."""

import signal
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from tests.cli.processes import PATIENCE_S, until
from tests.dashboard.server.test_mdns import Browser
from tests.sources.network_namespaces import BROKER_BY_CABLE as THERE
from tests.sources.network_namespaces import HostApart

HERE = "198.19.0.2"


@contextmanager
def served(host: HostApart, folder: Path, *options: str) -> Iterator[Path]:
    """A server on the other host, once it has said where; gives the file of what it prints."""
    subprocess.run([*host.started_by, "ip", "link", "set", "lo", "up"], check=True)
    folder.mkdir()
    output = folder.with_suffix(".txt")
    words = ("serve", "--recordings", str(folder), "--port", "0", *options)
    with output.open("w") as out:
        process = subprocess.Popen(
            [*host.started_by, sys.executable, "-m", "monitor.cli", *words], stdout=out, stderr=subprocess.STDOUT
        )
        try:
            until(lambda: "Scan this" in output.read_text())
            yield output
        finally:
            process.send_signal(signal.SIGTERM)
            assert process.wait(PATIENCE_S) == 0
    assert "Traceback" not in output.read_text()


def status_by(name: str, port: int) -> int:
    """What a request for this host name is answered with."""
    asked = urllib.request.Request(f"http://{THERE}:{port}/healthz", headers={"Host": name})
    try:
        with urllib.request.urlopen(asked, timeout=PATIENCE_S) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        error.close()
        return error.code


@pytest.mark.network
def test_the_pages_are_found_answer_to_their_name_and_are_gone_at_the_end(tmp_path: Path) -> None:
    with HostApart() as host, closing(Browser(HERE)) as browser:
        with served(host, tmp_path / "cooks", "--host", THERE) as output:
            until(lambda: "kettleside" in browser.found)
            info = browser.found["kettleside"]
            assert (info.server, info.parsed_addresses()) == ("kettleside.local.", [THERE])
            until(lambda: f"http://kettleside.local:{info.port}/?key=" in output.read_text())
            assert [status_by(name, int(info.port or 0)) for name in ("kettleside.local", "elsewhere.example")] == [
                200,
                421,
            ]
        until(lambda: browser.gone == ["kettleside"])


@pytest.mark.network
@pytest.mark.parametrize("options", [("--host", "127.0.0.1"), ("--host", THERE, "--no-mdns")])
def test_a_server_for_this_machine_alone_or_told_not_to_is_not_found(tmp_path: Path, options: tuple[str, ...]) -> None:
    with (
        HostApart() as host,
        closing(Browser(HERE)) as browser,
        served(host, tmp_path / "quiet", *options) as quiet,
        served(host, tmp_path / "loud", "--host", THERE) as loud,
    ):
        until(lambda: "By name" in loud.read_text())
        # The one that began first would have had the name.
        until(lambda: bool(browser.found))
        assert browser.found.keys() == {"kettleside"}
        assert "By name" not in quiet.read_text()
