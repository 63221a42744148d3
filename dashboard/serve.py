"""Serves the pages of one folder of recordings on the local network until told to stop."""

import ctypes
import gc
import io
import logging
import os
import secrets
import signal
import socket
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

import segno

from dashboard.app import make_app
from dashboard.auth.access_control import AccessSettings, DashboardError, is_permission_error, pairing_key
from dashboard.auth.access_list import STATE_FOLDER, AccessList
from dashboard.auth.certificates import TLS, MadeCertificate, self_signed_tls, tls_from_files
from dashboard.auth.hosts import ALL_INTERFACES, AllowedHosts, lan_address
from dashboard.live.app_state import APP_STATE, AppState
from dashboard.live.invented_cook import INVENTED_COOK, InventedCook
from dashboard.server.http_server import Server
from dashboard.server.mdns import USUAL_NAME, NetworkName
from dashboard.server.privileges import drop_privileges, is_root
from monitor.runtime import SystemClock
from monitor.session import CookLibrary

# It warns at every page that a browser requested several files at once, which all browsers do.
logging.getLogger("waitress.queue").setLevel(logging.ERROR)
# Parameters of mallopt, from glibc's malloc.h.
_M_MMAP_THRESHOLD = -3
_M_ARENA_MAX = -8


@dataclass(frozen=True, slots=True)
class Tls:
    """The TLS that was asked for. certificate, key: the user's PEM files; None for a self-signed certificate."""

    certificate: Path | None = None
    key: Path | None = None


def serve(
    folder: Path,
    *,
    host: str,
    port: int,
    announce: Callable[[str], None],
    complain: Callable[[str], None] = lambda _words: None,
    tls: Tls | None = None,
    names: Sequence[str] = (),
    user: str | None = None,
    mdns: bool = False,
) -> None:
    """Serves until SIGTERM or Ctrl-C; ``announce`` takes the address and its QR code, ``complain`` warnings.

    port: 0 picks a free one. names: host names beside the machine's own. mdns: whether to be found as kettleside.local,
    or the next such name; a server that only this machine reaches never is.
    user: the account to change to once the port is bound and the TLS key is read. Raises DashboardError where the port,
    a certificate, the key or the user cannot be used.
    """
    _limit_heap_growth()
    listener = _listen(host, port)
    with listener:
        # Before the user changes, because a port below 1024 and the key of a certificate may be root's alone.
        given = tls_from_files(tls.certificate, tls.key) if tls and tls.certificate and tls.key else None
        _become(user, complain)
        key, access_list = _load_access(folder, complain)
        is_found = mdns and _reached_from_outside(listener)
        # Named before it is announced, so that a certificate has the name.
        hosts = AllowedHosts([*names, f"{USUAL_NAME}.local"] if is_found else names)
        kept_in = None if access_list.path is None else folder
        tls_setup = given
        if tls is not None and given is None:
            tls_setup = self_signed_tls(kept_in, hosts.certificate_names(host), SystemClock().now())
        address = base_url(host, listener.getsockname()[1], secure=tls_setup is not None)
        access_list.record_address(address)
        library = CookLibrary(folder, keeps_open=True)
        application = make_app(library, key, AccessSettings(access_list, hosts, complain))
        application.extensions[TLS] = tls_setup
        state: AppState = application.extensions[APP_STATE]
        invented: InventedCook = application.extensions[INVENTED_COOK]
        invented.clear_up()
        server = Server(application, listener, tls_setup.context if tls_setup else None, complain, state.tidy)
        # What exists now lives to the end, so the garbage collector need not scan it.
        gc.freeze()
        _announce(announce, address, key, tls_setup.made if tls_setup else None)
        found_by_name = _found_by_name(listener, hosts, announce, complain, address, key)
        with closing(invented), closing(server), found_by_name if is_found else nullcontext(), _stopped_by_signals():
            server.run()


def _become(user: str | None, complain: Callable[[str], None]) -> None:
    """Goes on as ``user``, where one was named."""
    if user is not None:
        drop_privileges(user)
    elif is_root():
        complain("The pages are served by root; --user NAME has them served by a user who can do less.")


def _reached_from_outside(listener: socket.socket) -> bool:
    """Whether other machines may reach this server by IPv4."""
    return listener.family == socket.AF_INET and not listener.getsockname()[0].startswith("127.")


@contextmanager
def _found_by_name(
    listener: socket.socket,
    hosts: AllowedHosts,
    announce: Callable[[str], None],
    complain: Callable[[str], None],
    address: str,
    key: str,
) -> Iterator[None]:
    """Has the pages found by name until the end of the block, and announces the name beside their ``address``."""
    host, port = listener.getsockname()[:2]

    def current() -> str | None:
        found = lan_address() if host in ALL_INTERFACES else str(host)
        return None if found.startswith("127.") else found

    def on_name(name: str) -> None:
        hosts.add(name)
        link = f"{address.partition('://')[0]}://{name}:{port}"
        announce(f"By name, where the phone knows such names: {link}{_query(key)}")

    with closing(NetworkName(port, current, on_name, complain)):
        yield


def _announce(announce: Callable[[str], None], address: str, key: str, made: MadeCertificate | None) -> None:
    """Announces the pages' address with the key in it, and the fingerprints of a certificate that was made here."""
    if query := _query(key):
        announce(qr_invitation(f"{address}{query}"))
    else:
        announce(f"The pages are at {address}; kettleside phones --invite shows the code that pairs a phone.")
    if made is not None:
        announce(
            "The browser will warn once, because kettleside made the certificate itself. It is the right one if "
            f"its SHA-256 fingerprint is\n{made.fingerprint}\n"
            "A phone that takes in the certificate from Set-up, TLS warns no more; that one's fingerprint is\n"
            f"{made.authority_fingerprint}"
        )


def _query(key: str) -> str:
    """What an address ends in so that it pairs; empty under systemd's journal, which must not hold the key."""
    return "" if os.environ.get("JOURNAL_STREAM") else f"/?key={quote(key, safe='')}"


def _load_access(folder: Path, complain: Callable[[str], None]) -> tuple[str, AccessList]:
    """The key and the access list; in memory alone where this user may not write."""
    try:
        key = pairing_key(folder)
    except DashboardError as error:
        if not is_permission_error(error):
            raise
        complain(f"{error} Phones are paired anew each time this starts.")
        return secrets.token_urlsafe(24), AccessList(None)
    if os.access(folder / STATE_FOLDER, os.W_OK):
        return key, AccessList(folder)
    complain(f"Nothing can be written in {folder / STATE_FOLDER}; phones are paired anew each time this starts.")
    return key, AccessList(None)


def _limit_heap_growth() -> None:
    """Has glibc return large arrays to the system when they are freed, and all threads share one arena (mallopt(3)).

    By default glibc raises the size from which freed blocks are returned, and each thread's arena stays as large and
    fragmented as the largest cook that it ever worked on left it.
    """
    library = ctypes.CDLL(None)
    if sys.platform == "linux" and hasattr(library, "mallopt"):
        library.mallopt(_M_MMAP_THRESHOLD, 65_536)
        library.mallopt(_M_ARENA_MAX, 1)


def qr_invitation(url: str) -> str:
    """An address and its QR code, as text for a terminal."""
    drawing = io.StringIO()
    segno.make(url, error="l", micro=False).terminal(out=drawing, compact=True, border=2)
    return f"Scan this with the phone, or open {url}\n{drawing.getvalue()}"


def base_url(host: str, port: int, *, secure: bool = False) -> str:
    """The address under which a phone reaches a server that listens on ``host``, without the key."""
    shown = lan_address() if host in ALL_INTERFACES else host
    return f"{'https' if secure else 'http'}://{f'[{shown}]' if ':' in shown else shown}:{port}"


def _listen(host: str, port: int) -> socket.socket:
    # The resolver would take a larger number modulo 65536.
    if not 0 <= port <= 65535:
        raise DashboardError(f"The port is {port}; it must be from 0 to 65535.")
    try:
        family, kind, _, _, where = socket.getaddrinfo(
            host or None, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        listener = socket.socket(family, kind)
    except (OSError, OverflowError, UnicodeError) as error:
        raise DashboardError(f"Cannot listen on {host}:{port}: {getattr(error, 'strerror', None) or error}.") from None
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind(where)
        listener.listen(128)
    except (OSError, OverflowError) as error:
        listener.close()
        why = (getattr(error, "strerror", None) or str(error)).lower()
        raise DashboardError(f"Cannot listen on port {port} of {host or 'this machine'}: {why}.") from None
    return listener


@contextmanager
def _stopped_by_signals() -> Iterator[None]:
    """SIGTERM ends the block as Ctrl-C does, also where a shell started this process with SIGINT ignored.

    Outside the main thread, which alone handles signals, it changes nothing.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = {
        signal.SIGTERM: signal.signal(signal.SIGTERM, lambda *_: sys.exit(0)),
        signal.SIGINT: signal.signal(signal.SIGINT, signal.default_int_handler),
    }
    if sys.platform == "win32":
        before[signal.SIGBREAK] = signal.signal(signal.SIGBREAK, lambda *_: sys.exit(0))
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
