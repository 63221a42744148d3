"""Connections that are slow, too many, too long, or over TLS. Real sockets; the server's clock is put ahead."""

import errno
import http.client
import socket
import ssl
import threading
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

import pytest

from dashboard.app import make_app
from dashboard.auth.access_control import DashboardError
from dashboard.auth.certificates import VALID_FOR, make_certificate, self_signed_tls, tls_from_files
from dashboard.server.http_server import ACCEPT_PAUSE_S, MAX_CONNECTIONS_PER_ADDRESS, MAX_REQUEST_S, Server
from monitor.session import CookLibrary
from tests.dashboard.serving import running

KEY = "a-key-for-tests"
NOW = 1_773_480_000.0


@contextmanager
def served(
    folder: Path, secret: ssl.SSLContext | None = None, complain: Callable[[str], None] = lambda _words: None
) -> Iterator[Server]:
    with (
        socket.create_server(("127.0.0.1", 0)) as listener,
        running(Server(make_app(CookLibrary(folder), KEY), listener, secret, complain)) as server,
    ):
        yield server


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    with served(tmp_path) as server:
        yield server


def connect(server: Server) -> socket.socket:
    connection = socket.create_connection(("127.0.0.1", int(server.effective_port)), 10)
    connection.settimeout(20)
    return connection


def status(server: Server, request: bytes) -> int:
    with connect(server) as connection:
        connection.sendall(request)
        return int(connection.makefile("rb").readline().split()[1])


def was_cut_off(connection: socket.socket) -> bool:
    try:
        return connection.recv(100) == b""
    except ConnectionResetError:
        # What was sent and never read makes of the end a reset.
        return True


def test_a_slow_request_is_cut_off_while_others_are_served(server: Server, monkeypatch: pytest.MonkeyPatch) -> None:
    with ExitStack() as open_ones:
        slow = [open_ones.enter_context(connect(server)) for _ in range(20)]
        for number, connection in enumerate(slow):
            # Half a head, half a body, nothing at all.
            connection.sendall(
                (b"GET / HTTP/1.1\r\nHost: x", b"POST /pair HTTP/1.1\r\nContent-Length: 99\r\n\r\nk", b"")[number % 3]
            )
        assert status(server, b"GET /healthz HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n") == 200
        ahead = server.clock.real_s
        monkeypatch.setattr(server.clock, "real_s", lambda: ahead() + MAX_REQUEST_S + 1)
        # Dribbling on does not help: what counts is when it began.
        slow[0].sendall(b"y")
        server.next_channel_cleanup = 0
        server.pull_trigger()
        assert all(was_cut_off(connection) for connection in slow)


def test_without_file_handles_the_server_pauses_and_reports_it_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[str] = []
    tried, real = threading.Semaphore(0), socket.socket.accept

    def accept(listening: socket.socket) -> tuple[socket.socket, object]:
        if len(tries) < 3:
            tries.append(now[0])
            tried.release()
            raise OSError(errno.EMFILE, "Too many open files")
        return real(listening)

    tries: list[float] = []
    with served(tmp_path, complain=said.append) as server:
        now = [server.clock.real_s()]
        monkeypatch.setattr(server.clock, "real_s", lambda: now[0])
        monkeypatch.setattr(socket.socket, "accept", accept)
        with connect(server) as connection:
            connection.sendall(b"GET /healthz HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
            for _ in range(3):
                assert tried.acquire(timeout=20)
                # The loop goes round, and asks no sooner than it should.
                for _ in range(5):
                    gone_round = threading.Event()
                    server.trigger.pull_trigger(gone_round.set)
                    assert gone_round.wait(20)
                now[0] += ACCEPT_PAUSE_S
                server.pull_trigger()
            assert b"200" in connection.makefile("rb").readline()
    assert tries == [pytest.approx(tries[0] + ACCEPT_PAUSE_S * times) for times in range(3)]
    assert len(said) == 1 and "too many files are open" in said[0]


def test_connections_of_one_address_are_limited(server: Server) -> None:
    with ExitStack() as open_ones:
        for _ in range(MAX_CONNECTIONS_PER_ADDRESS):
            open_ones.enter_context(connect(server))
        surplus = open_ones.enter_context(connect(server))
        assert surplus.recv(1) == b""
        assert len(server.active_channels) <= MAX_CONNECTIONS_PER_ADDRESS


def test_requests_that_are_too_long_are_refused_with_their_status(server: Server) -> None:
    assert status(server, b"POST /log HTTP/1.1\r\nHost: localhost\r\nContent-Length: 99999999\r\n\r\n") == 413
    assert status(server, b"GET / HTTP/1.1\r\nHost: localhost\r\nX: " + b"x" * 20_000 + b"\r\n\r\n") == 431
    assert status(server, b"GET /" + b"x" * 3000 + b" HTTP/1.1\r\nHost: localhost\r\n\r\n") == 414


@pytest.mark.parametrize(
    "request_bytes",
    [
        b"\x00\x01\x02\r\n\r\n",
        b"GET\r\n\r\n",
        b"GET / HTTP/9.9\r\nHost: localhost\r\n\r\n",
        b"POST /log HTTP/1.1\r\nHost: localhost\r\nContent-Length: -1\r\n\r\n",
        b"POST /log HTTP/1.1\r\nHost: localhost\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
        b"POST /log HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n\r\n",
        b"GET http://elsewhere.example/ HTTP/1.1\r\nHost: elsewhere.example\r\n\r\n",
        b"GET /%00%ff%2e%2e/ HTTP/1.1\r\nHost: localhost\r\n\r\n",
    ],
)
def test_a_malformed_request_is_refused_with_400(server: Server, request_bytes: bytes) -> None:
    assert 400 <= status(server, request_bytes + b"\r\n") < 500 or request_bytes.endswith(b"zz\r\n\r\n")
    assert status(server, b"GET /healthz HTTP/1.1\r\nHost: localhost\r\n\r\n") == 200


def test_pages_are_served_over_tls_with_a_self_signed_certificate(tmp_path: Path) -> None:
    secrecy = self_signed_tls(tmp_path, ["localhost", "127.0.0.1"], NOW)
    kept = tmp_path / ".kettleside" / "tls.pem"
    assert kept.stat().st_mode & 0o777 == 0o600
    # The client believes what a phone takes in and no other, and holds it to its names.
    assert secrecy.made is not None
    trusting = ssl.create_default_context(cadata=secrecy.made.authority)
    with served(tmp_path, secrecy.context) as server:
        port = int(server.effective_port)
        secret = http.client.HTTPSConnection("127.0.0.1", port, context=trusting, timeout=20)
        secret.request("GET", f"/?key={KEY}")
        answer = secret.getresponse()
        answer.read()
        cookie = answer.getheader("Set-Cookie", "")
        assert answer.status == 303 and "; Secure" in cookie and "HttpOnly" in cookie
        secret.request("GET", "/cooks", headers={"Cookie": cookie.split(";")[0]})
        answer = secret.getresponse()
        assert answer.status == 200 and b'<h1 id="title">Cooks' in answer.read()
        # Larger than one TLS record, and than what a socket takes at once.
        secret.request("GET", "/assets/60-plotly-lean.min.js", headers={"Cookie": cookie.split(";")[0]})
        assert len(secret.getresponse().read()) > 1_000_000
        # Who speaks plainly is cut off, and who says nothing at all holds up nobody.
        with connect(server), connect(server) as plain:
            plain.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")
            with suppress(ConnectionResetError):
                assert not plain.recv(100).startswith(b"HTTP")
            secret.request("GET", "/healthz")
            assert secret.getresponse().read() == b"alive\n"
        secret.close()
        with pytest.raises(ssl.SSLCertVerificationError):
            ssl.create_default_context().wrap_socket(connect(server), server_hostname="127.0.0.1")


def test_the_certificate_is_kept_until_it_must_be_renewed(tmp_path: Path) -> None:
    first = make_certificate(tmp_path, ["localhost"], NOW).fingerprint
    assert make_certificate(tmp_path, ["localhost"], NOW + 86400).fingerprint == first
    assert make_certificate(tmp_path, ["localhost", "192.0.2.9"], NOW).fingerprint != first
    second = make_certificate(tmp_path, ["localhost"], NOW).fingerprint
    assert make_certificate(tmp_path, ["localhost"], NOW + VALID_FOR.total_seconds()).fingerprint != second
    (tmp_path / ".kettleside" / "tls.pem").write_bytes(b"-----BEGIN CERTIFICATE-----\nrubbish\n")
    assert len(make_certificate(tmp_path, ["localhost"], NOW).fingerprint) == 95


def test_pages_are_served_with_the_users_certificate(tmp_path: Path) -> None:
    self_signed_tls(tmp_path, ["127.0.0.1"], NOW)
    both = tmp_path / ".kettleside" / "tls.pem"
    with served(tmp_path, tls_from_files(both, both).context) as server:
        trusting = ssl.create_default_context(cafile=both)
        trusting.verify_flags |= ssl.VERIFY_X509_PARTIAL_CHAIN
        with urllib.request.urlopen(f"https://127.0.0.1:{server.effective_port}/healthz", context=trusting) as answer:
            assert answer.read() == b"alive\n"


def test_an_invalid_certificate_is_reported_in_one_sentence(tmp_path: Path) -> None:
    rubbish = tmp_path / "rubbish.pem"
    rubbish.write_text("rubbish", encoding="ascii")
    for files in ((rubbish, rubbish), (tmp_path / "none", rubbish), (rubbish, tmp_path / "none")):
        with pytest.raises(DashboardError, match=r"^The TLS [^\n]+\.$"):
            tls_from_files(*files)
