"""Why the connection to a broker fails, over TCP or TLS, in sentences."""

import socket
import ssl


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
