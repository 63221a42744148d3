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
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

import segno

from dashboard.access_control import DashboardError, Door, is_out_of_reach, pairing_key
from dashboard.access_list import PLACE, Book
from dashboard.app import make_app
from dashboard.app_state import APP_STATE, AppState
from dashboard.certificates import of_own, of_user
from dashboard.hosts import Hosts
from dashboard.http_server import Server
from dashboard.privileges import drop_privileges, is_root
from monitor.runtime import SystemClock
from monitor.session import CookLibrary

EVERYWHERE = ("", "0.0.0.0", "::")
# It says at every page that a browser asked for several files at once, which is how browsers ask.
logging.getLogger("waitress.queue").setLevel(logging.ERROR)
# malloc.h's numbers.
_M_MMAP_THRESHOLD = -3
_M_ARENA_MAX = -8
# From the block kept for documentation (RFC 5737): it is only routed towards, nothing is sent.
_ELSEWHERE = ("192.0.2.1", 9)


@dataclass(frozen=True, slots=True)
class Tls:
    """The TLS that was asked for. certificate, key: the user's PEM files; None for one of our own making."""

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
) -> None:
    """Serves until SIGTERM or Ctrl-C; ``announce`` is told the address and its QR code, ``complain`` what is amiss.

    port: 0 picks a free one. names: names beside the machine's own by which the pages may be asked for.
    user: whom to become once the port and the TLS key are had. Raises DashboardError when something cannot be used.
    """
    _keep_memory_together()
    listener = _listen(host, port)
    with listener:
        # Before the user changes, because a port below 1024 and the key of a certificate may be root's alone.
        given = of_user(tls.certificate, tls.key) if tls and tls.certificate and tls.key else None
        if user is not None:
            drop_privileges(user)
        elif is_root():
            complain("The pages are served by root; --user NAME has them served by a user who can do less.")
        key, book = _kept(folder, complain)
        hosts = Hosts(names)
        secrecy = given or (of_own(_place(book, folder), _called(hosts, host), SystemClock().now()) if tls else None)
        where = base(host, listener.getsockname()[1], secure=secrecy is not None)
        book.served_at(where)
        door = Door(book, hosts, complain)
        application = make_app(CookLibrary(folder, keeps_open=True), key, door)
        state: AppState = application.extensions[APP_STATE]
        server = Server(application, listener, secrecy.context if secrecy else None, complain, state.tidy)
        # What is there now stays to the end, so that no search for garbage need go through it.
        gc.freeze()
        _announce(announce, where, key, secrecy.fingerprint if secrecy else None)
        try:
            with _stopped_by_signals():
                server.run()
        finally:
            server.close()


def _announce(announce: Callable[[str], None], where: str, key: str, fingerprint: str | None) -> None:
    """Tells the pages' address with the key in it, and the fingerprint of a certificate that kettleside made."""
    # systemd sets this where what is said is kept in the journal, in which no key has a place.
    if os.environ.get("JOURNAL_STREAM"):
        announce(f"The pages are at {where}; kettleside phones --invite shows the code that pairs a phone.")
    else:
        announce(invitation(f"{where}/?key={quote(key, safe='')}"))
    if fingerprint:
        announce(
            "The browser will warn once, because kettleside made the certificate itself. It is the right one if "
            f"its SHA-256 fingerprint is\n{fingerprint}"
        )


def _kept(folder: Path, complain: Callable[[str], None]) -> tuple[str, Book]:
    """The key and the list of phones; both in memory alone where this user may not write."""
    try:
        key = pairing_key(folder)
    except DashboardError as error:
        if not is_out_of_reach(error):
            raise
        complain(f"{error} Phones are paired anew each time this starts.")
        return secrets.token_urlsafe(24), Book(None)
    if os.access(folder / PLACE, os.W_OK):
        return key, Book(folder)
    complain(f"Nothing can be written in {folder / PLACE}; phones are paired anew each time this starts.")
    return key, Book(None)


def _place(book: Book, folder: Path) -> Path | None:
    return None if book.path is None else folder


def _called(hosts: Hosts, host: str) -> list[str]:
    """What a certificate of our own names: the names we answer to and the numbers we know of."""
    shown = _lan_address() if host in EVERYWHERE else host
    names = [*(name for name in hosts.names() if name.isascii()), "127.0.0.1", "::1", shown]
    return list(dict.fromkeys(names))


def _keep_memory_together() -> None:
    """Has the C library give large arrays back when they are freed, and share its heap among the threads (mallopt(3)).

    Left alone, glibc raises the size from which a block is given back, and each thread's own heap keeps the holes of
    every cook that was ever looked at.
    """
    library = ctypes.CDLL(None)
    if sys.platform == "linux" and hasattr(library, "mallopt"):
        library.mallopt(_M_MMAP_THRESHOLD, 65_536)
        library.mallopt(_M_ARENA_MAX, 1)


def invitation(url: str) -> str:
    """The address and its QR code, for a terminal."""
    drawing = io.StringIO()
    segno.make(url, error="l", micro=False).terminal(out=drawing, compact=True, border=2)
    return f"Scan this with the phone, or open {url}\n{drawing.getvalue()}"


def base(host: str, port: int, *, secure: bool = False) -> str:
    """The address under which a phone reaches a server that listens on ``host``, without the key."""
    shown = _lan_address() if host in EVERYWHERE else host
    return f"{'https' if secure else 'http'}://{f'[{shown}]' if ':' in shown else shown}:{port}"


def _lan_address() -> str:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_ELSEWHERE)
        except OSError:
            return "127.0.0.1"
        return str(probe.getsockname()[0])


def _listen(host: str, port: int) -> socket.socket:
    # The resolver would take a larger one and count it round.
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
    """SIGTERM ends the block as Ctrl-C does, also where a shell had this process ignore Ctrl-C's signal.

    Outside the main thread, which gets no signals, it changes nothing.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = {
        signal.SIGTERM: signal.signal(signal.SIGTERM, lambda *_: sys.exit(0)),
        signal.SIGINT: signal.signal(signal.SIGINT, signal.default_int_handler),
    }
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
