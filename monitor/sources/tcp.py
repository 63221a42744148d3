"""TCP under a source: a lost connection noticed soon. Loads no TLS, because a serial source needs this module too."""

import errno
import os
import socket
from contextlib import suppress

# A network that drops what we send is noticed by the system, which asks sooner than MQTT lets us.
UNANSWERED_MS = 3000


def limit_unanswered(sock: socket.socket) -> None:
    """Has the system end a connection whose other end does not confirm what it is sent within 3 s (tcp(7))."""
    _enable_keepalive(sock, TCP_USER_TIMEOUT=UNANSWERED_MS)


def keep_alive(descriptor: int) -> None:
    """Has the system ask the other end of an open TCP connection each second whether it is still there (tcp(7)).

    A board that lost its power sends no FIN. When it is up again it answers that it knows of no connection, and a new
    one is made. A descriptor of anything else is left as it is.
    """
    with suppress(OSError), socket.socket(fileno=os.dup(descriptor)) as sock:
        _enable_keepalive(sock, TCP_KEEPCNT=8)


def _enable_keepalive(sock: socket.socket, **options: int) -> None:
    with suppress(OSError):
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        for name, value in {"TCP_KEEPIDLE": 1, "TCP_KEEPINTVL": 1, **options}.items():
            option = getattr(socket, name, None)
            if option is not None:
                sock.setsockopt(socket.IPPROTO_TCP, option, value)


def has_lost_its_address(sock: socket.socket) -> bool:
    """Whether this machine no longer has the address that the connection began with, so that no answer can come."""
    try:
        host, _, *rest = sock.getsockname()
        with socket.socket(sock.family, socket.SOCK_DGRAM) as probe:
            probe.bind((host, 0, *rest))
    except OSError as error:
        return error.errno == errno.EADDRNOTAVAIL
    return False
