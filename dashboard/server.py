"""Serves the pages of one folder of recordings on the local network until told to stop."""

import gc
import io
import logging
import signal
import socket
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

import segno
from waitress.server import create_server

from dashboard.app import make_app
from dashboard.pairing import DashboardError, pairing_key
from monitor.view import Shelf

# No answer takes long, and one thread's memory is warmer than eight's.
THREADS = 4
# It says at every page that a browser asked for several files at once, which is how browsers ask.
logging.getLogger("waitress.queue").setLevel(logging.ERROR)
# From the block kept for documentation (RFC 5737): it is only routed towards, nothing is sent.
_ELSEWHERE = ("192.0.2.1", 9)


def serve(folder: Path, *, host: str, port: int, announce: Callable[[str], None]) -> None:
    """Serves until SIGTERM or Ctrl-C; ``announce`` is told the address and its QR code.

    port: 0 picks a free one. Raises DashboardError when the port or the key cannot be used.
    """
    listener = _listen(host, port)
    with listener:
        server = create_server(
            make_app(Shelf(folder), key := pairing_key(folder)), sockets=[listener], threads=THREADS, ident=None
        )
        # What is there now stays to the end, so that no search for garbage need go through it.
        gc.freeze()
        announce(invitation(address(host, listener.getsockname()[1], key)))
        try:
            with _stopped_by_sigterm():
                server.run()
        finally:
            server.close()


def invitation(url: str) -> str:
    """The address and its QR code, for a terminal."""
    drawing = io.StringIO()
    segno.make(url, error="l", micro=False).terminal(out=drawing, compact=True, border=2)
    return f"Scan this with the phone, or open {url}\n{drawing.getvalue()}"


def address(host: str, port: int, key: str) -> str:
    """The address, with the key, under which a phone reaches a server that listens on ``host``."""
    shown = _lan_address() if host in ("", "0.0.0.0", "::") else host
    return f"http://{f'[{shown}]' if ':' in shown else shown}:{port}/?key={quote(key, safe='')}"


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
def _stopped_by_sigterm() -> Iterator[None]:
    """SIGTERM ends the block as Ctrl-C would; outside the main thread, which gets no signals, it changes nothing."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)
