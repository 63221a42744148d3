"""TCP and TLS under a source: a lost connection noticed soon, and its errors as sentences."""

import errno
import os
import socket
import ssl
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


def tls_error_text(error: Exception) -> str:
    """Why TLS failed, in a few words for the inside of a sentence."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return error.verify_message
    if isinstance(error, ssl.SSLError):
        return error.reason or "TLS failed"
    return str(error)


def connection_error_text(address: str, error: OSError) -> str:
    """Why a broker cannot be reached, as one sentence. address: its host and port."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"The certificate of the broker {address} is not trusted: {error.verify_message}."
    if isinstance(error, ssl.SSLError):
        return f"The broker {address} does not speak TLS as we do ({tls_error_text(error)})."
    if isinstance(error, socket.gaierror):
        return f"The broker {address} cannot be found by its name."
    if isinstance(error, ConnectionRefusedError):
        return f"The broker {address} refuses the connection; is it running?"
    if isinstance(error, TimeoutError):
        return f"The broker {address} does not answer."
    return f"The broker {address} cannot be reached ({error.strerror or error})."
