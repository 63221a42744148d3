"""TLS for the pages: the user's certificate, or a self-signed one for the names and IP addresses of this machine."""

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
from dashboard.access_list import STATE_FOLDER, write_secret

# The longest life that public authorities could give a certificate until 15 March 2026 (CA/Browser Forum, baseline
# requirements, section 6.3.2: 398 days; 200 since). No browser holds a self-signed certificate to less than that.
VALID_FOR = timedelta(days=397)
RENEW_BEFORE_END = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class TlsSetup:
    """The TLS of the server. fingerprint: SHA-256 of a self-signed certificate; empty for the user's own."""

    context: ssl.SSLContext
    fingerprint: str = ""


def tls_from_files(certificate: Path, key: Path) -> TlsSetup:
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
    return TlsSetup(context)


def self_signed_tls(folder: Path | None, names: Sequence[str], now: float) -> TlsSetup:
    """TLS with a self-signed certificate for these names and IP addresses, kept beside the recordings.

    folder: of the recordings; None makes one in memory. now: Unix seconds. Raises DashboardError.
    """
    from cryptography import x509
    from cryptography.hazmat.primitives.hashes import SHA256

    path = None if folder is None else folder / STATE_FOLDER / "tls.pem"
    moment = datetime.fromtimestamp(now, UTC)
    try:
        pem = path.read_bytes() if path is not None and path.exists() else b""
        if not _is_usable(pem, names, moment):
            pem = _create(names, moment)
            if path is not None:
                write_secret(path, pem)
    except OSError as error:
        raise DashboardError(f"The TLS certificate {path} cannot be kept: {str(error.strerror).lower()}.") from None
    context = _context()
    # Python's ssl reads certificates from files only; this file is removed before the server starts.
    descriptor, temporary = tempfile.mkstemp(prefix=secrets.token_hex(4))
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(pem)
        context.load_cert_chain(temporary)
    finally:
        Path(temporary).unlink()
    return TlsSetup(context, x509.load_pem_x509_certificate(pem).fingerprint(SHA256()).hex(":").upper())


def _context() -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.options |= ssl.OP_NO_RENEGOTIATION
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    return context


def _is_usable(pem: bytes, names: Sequence[str], moment: datetime) -> bool:
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        certificate = x509.load_pem_x509_certificate(pem)
        load_pem_private_key(pem, None)
        named = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (ValueError, TypeError, x509.ExtensionNotFound):
        return False
    lasts = certificate.not_valid_before_utc <= moment < certificate.not_valid_after_utc - RENEW_BEFORE_END
    return lasts and set(_alternatives(names)) <= set(named)


def _alternatives(names: Sequence[str]) -> list[object]:
    from cryptography import x509

    found: list[object] = []
    for name in names:
        try:
            found.append(x509.IPAddress(ipaddress.ip_address(name)))
        except ValueError:
            found.append(x509.DNSName(name))
    return found


def _create(names: Sequence[str], moment: datetime) -> bytes:
    from cryptography import x509
    from cryptography.hazmat.primitives import serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.hashes import SHA256

    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(x509.oid.NameOID.COMMON_NAME, "kettleside")])
    alternatives: list[x509.GeneralName] = [name for name in _alternatives(names) if isinstance(name, x509.GeneralName)]
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        # The phone's clock may be a little behind this one.
        .not_valid_before(moment - timedelta(hours=1))
        .not_valid_after(moment + VALID_FOR)
        .add_extension(x509.SubjectAlternativeName(alternatives), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([x509.oid.ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, SHA256())
    )
    pem, kind = serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8
    return key.private_bytes(pem, kind, serialization.NoEncryption()) + certificate.public_bytes(pem)
