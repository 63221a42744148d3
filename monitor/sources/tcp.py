"""The network under a broker's connection: a loss noticed soon, and said in words."""

import errno
import socket
import ssl
from contextlib import suppress

# A network that swallows what we send is noticed by the system, which asks sooner than MQTT lets us.
UNANSWERED_MS = 3000


def notice_when_swallowed(sock: socket.socket) -> None:
    """Has the system end a connection whose other end does not confirm what it is sent (tcp(7))."""
    with suppress(OSError):
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        for name, value in (("TCP_KEEPIDLE", 1), ("TCP_KEEPINTVL", 1), ("TCP_USER_TIMEOUT", UNANSWERED_MS)):
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


def ssl_words(error: Exception) -> str:
    """Why TLS failed, in a few words for the inside of a sentence."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return error.verify_message
    if isinstance(error, ssl.SSLError):
        return error.reason or "TLS failed"
    return str(error)


def network_words(where: str, error: OSError) -> str:
    """Why a broker cannot be reached, one sentence. where: its host and port."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"The certificate of the broker {where} is not trusted: {error.verify_message}."
    if isinstance(error, ssl.SSLError):
        return f"The broker {where} does not speak TLS as we do ({ssl_words(error)})."
    if isinstance(error, socket.gaierror):
        return f"The broker {where} cannot be found by its name."
    if isinstance(error, ConnectionRefusedError):
        return f"The broker {where} refuses the connection; is it running?"
    if isinstance(error, TimeoutError):
        return f"The broker {where} does not answer."
    return f"The broker {where} cannot be reached ({error.strerror or error})."
