"""TLS for the pages: the user's certificate, or one that this program makes for its own names and numbers."""

import ipaddress
import os
import secrets
import ssl
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from dashboard.access_control import DashboardError
from dashboard.access_list import PLACE, write_secret

# Browsers refuse a longer life of one made today (CA/Browser Forum, baseline requirements, section 6.3.2: 398 days
# until March 2026; a certificate of one's own making is held to no less here).
VALID = timedelta(days=397)
REMADE_BEFORE_END = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class Secrecy:
    """How the pages are served over TLS. fingerprint: SHA-256 of a certificate of our own making, else empty."""

    context: ssl.SSLContext
    fingerprint: str = ""


def of_user(certificate: Path, key: Path) -> Secrecy:
    """TLS with the user's own certificate chain and its key, both PEM. Raises DashboardError."""
    context = _context()
    try:
        # Without a password here OpenSSL would ask for it on the terminal, and hang where there is none.
        context.load_cert_chain(certificate, key, password=lambda: b"")
    except FileNotFoundError:
        missing = certificate if not certificate.exists() else key
        raise DashboardError(f"The TLS file {missing} does not exist.") from None
    except (OSError, ValueError) as error:
        why = getattr(error, "reason", None) or getattr(error, "strerror", None) or str(error)
        words = str(why).lower().replace("_", " ")
        raise DashboardError(f"The TLS certificate {certificate} with the key {key} cannot be used: {words}.") from None
    return Secrecy(context)


def of_own(folder: Path | None, names: Sequence[str], now: float) -> Secrecy:
    """TLS with a certificate of our own making for these names and numbers, kept beside the recordings.

    folder: of the recordings; None keeps it in memory. now: Unix seconds. Raises DashboardError.
    """
    from cryptography import x509
    from cryptography.hazmat.primitives.hashes import SHA256

    place = None if folder is None else folder / PLACE / "tls.pem"
    moment = datetime.fromtimestamp(now, UTC)
    try:
        text = place.read_bytes() if place is not None and place.exists() else b""
        if not _is_good(text, names, moment):
            text = _made(names, moment)
            if place is not None:
                write_secret(place, text)
    except OSError as error:
        raise DashboardError(f"The TLS certificate {place} cannot be kept: {str(error.strerror).lower()}.") from None
    context = _context()
    # Python reads certificates from files only; this one is gone again before anybody is let in.
    number, path = tempfile.mkstemp(prefix=secrets.token_hex(4))
    try:
        with os.fdopen(number, "wb") as file:
            file.write(text)
        context.load_cert_chain(path)
    finally:
        Path(path).unlink()
    return Secrecy(context, x509.load_pem_x509_certificate(text).fingerprint(SHA256()).hex(":").upper())


def _context() -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.options |= ssl.OP_NO_RENEGOTIATION
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    return context


def _is_good(text: bytes, names: Sequence[str], moment: datetime) -> bool:
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        kept = x509.load_pem_x509_certificate(text)
        load_pem_private_key(text, None)
        told = kept.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (ValueError, TypeError, x509.ExtensionNotFound):
        return False
    lasts = kept.not_valid_before_utc <= moment < kept.not_valid_after_utc - REMADE_BEFORE_END
    return lasts and set(_alternatives(names)) <= set(told)


def _alternatives(names: Sequence[str]) -> list[object]:
    from cryptography import x509

    found: list[object] = []
    for name in names:
        try:
            found.append(x509.IPAddress(ipaddress.ip_address(name)))
        except ValueError:
            found.append(x509.DNSName(name))
    return found


def _made(names: Sequence[str], moment: datetime) -> bytes:
    from cryptography import x509
    from cryptography.hazmat.primitives import serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.hashes import SHA256

    key = ec.generate_private_key(ec.SECP256R1())
    called = x509.Name([x509.NameAttribute(x509.oid.NameOID.COMMON_NAME, "kettleside")])
    alternatives: list[x509.GeneralName] = [name for name in _alternatives(names) if isinstance(name, x509.GeneralName)]
    made = (
        x509.CertificateBuilder()
        .subject_name(called)
        .issuer_name(called)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        # A phone's clock may be a little behind.
        .not_valid_before(moment - timedelta(hours=1))
        .not_valid_after(moment + VALID)
        .add_extension(x509.SubjectAlternativeName(alternatives), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([x509.oid.ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, SHA256())
    )
    pem, kind = serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8
    return key.private_bytes(pem, kind, serialization.NoEncryption()) + made.public_bytes(pem)
