"""TLS for the pages: the user's certificate, or one that kettleside makes for this machine's names and IP addresses.

Phones take in authorities only, so an authority is made for each certificate. Its key is thrown away once it has
signed, and it is constrained to this machine's names: a phone that trusts it trusts this one certificate, and nobody
can make another.
"""

import ipaddress
import os
import secrets
import ssl
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.auth.access_control import DashboardError
from dashboard.auth.access_list import STATE_FOLDER, write_secret

if TYPE_CHECKING:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric import ec

# The longest life that public authorities could give a certificate until 15 March 2026 (CA/Browser Forum, baseline
# requirements, section 6.3.2: 398 days; 200 since). No browser holds a self-signed certificate to less than that.
VALID_FOR = timedelta(days=397)
# Under this name an application keeps the TLS that it is served with.
TLS = "kettleside-tls"
RENEW_BEFORE_END = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class TlsSetup:
    """The TLS of the server. made: the certificate that kettleside made; None for the user's own."""

    context: ssl.SSLContext
    made: "MadeCertificate | None" = None


@dataclass(frozen=True, slots=True)
class MadeCertificate:
    """A certificate and its authority.

    fingerprint: SHA-256 of the certificate, as a browser's warning shows it. authority: DER, for a phone to take in.
    authority_fingerprint: its SHA-256. names: what it is good for. ends: Unix seconds.
    """

    fingerprint: str
    authority: bytes
    authority_fingerprint: str
    names: tuple[str, ...]
    ends: float


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
    """TLS with a certificate made here for these names and IP addresses, kept beside the recordings.

    folder: of the recordings; None makes one in memory. now: Unix seconds. Raises DashboardError.
    """
    pem = _kept_or_made(folder, names, now)
    context = _context()
    # Python's ssl reads certificates from files only; this file is removed before the server starts.
    descriptor, temporary = tempfile.mkstemp(prefix=secrets.token_hex(4))
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(pem)
        context.load_cert_chain(temporary)
    finally:
        Path(temporary).unlink()
    return TlsSetup(context, _described(pem))


def make_certificate(folder: Path, names: Sequence[str], now: float) -> MadeCertificate:
    """The kept certificate, made where none is good for these names, as ``self_signed_tls`` will serve with.

    Raises DashboardError.
    """
    return _described(_kept_or_made(folder, names, now))


def kept_certificate(folder: Path) -> MadeCertificate | None:
    """The certificate that is kept beside the recordings, or None. Raises DashboardError."""
    pem = _read(_path(folder))
    try:
        return _described(pem) if pem else None
    except (ValueError, IndexError):
        # Damaged, or of a version without an authority: it is made anew when it is wanted.
        return None


def _path(folder: Path) -> Path:
    return folder / STATE_FOLDER / "tls.pem"


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes() if path.exists() else b""
    except OSError as error:
        raise DashboardError(f"The TLS certificate {path} cannot be read: {str(error.strerror).lower()}.") from None


def _kept_or_made(folder: Path | None, names: Sequence[str], now: float) -> bytes:
    moment = datetime.fromtimestamp(now, UTC)
    pem = b"" if folder is None else _read(_path(folder))
    if _is_usable(pem, names, moment):
        return pem
    pem = _create(names, moment)
    if folder is not None:
        try:
            write_secret(_path(folder), pem)
        except OSError as error:
            why = str(error.strerror).lower()
            raise DashboardError(f"The TLS certificate {_path(folder)} cannot be kept: {why}.") from None
    return pem


def _described(pem: bytes) -> MadeCertificate:
    """Raises ValueError or IndexError for what was not made here."""
    from cryptography import x509
    from cryptography.hazmat.primitives.hashes import SHA256
    from cryptography.hazmat.primitives.serialization import Encoding

    certificate, authority = x509.load_pem_x509_certificates(pem)[:2]
    named = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return MadeCertificate(
        certificate.fingerprint(SHA256()).hex(":").upper(),
        authority.public_bytes(Encoding.DER),
        authority.fingerprint(SHA256()).hex(":").upper(),
        tuple(str(name.value) for name in named),
        certificate.not_valid_after_utc.timestamp(),
    )


def _context() -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.options |= ssl.OP_NO_RENEGOTIATION
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    return context


def _is_usable(pem: bytes, names: Sequence[str], moment: datetime) -> bool:
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        # Until now there was no authority with it.
        certificate, _authority = x509.load_pem_x509_certificates(pem)
        load_pem_private_key(pem, None)
        named = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (ValueError, TypeError, x509.ExtensionNotFound):
        return False
    lasts = certificate.not_valid_before_utc <= moment < certificate.not_valid_after_utc - RENEW_BEFORE_END
    return lasts and set(_alternatives(names)) <= set(named)


def _alternatives(names: Sequence[str]) -> "list[x509.GeneralName]":
    from cryptography import x509

    found: list[x509.GeneralName] = []
    for name in names:
        try:
            found.append(x509.IPAddress(ipaddress.ip_address(name)))
        except ValueError:
            found.append(x509.DNSName(name))
    return found


def _create(names: Sequence[str], moment: datetime) -> bytes:
    """The key, the certificate and its authority, PEM."""
    from cryptography import x509
    from cryptography.hazmat.primitives import serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.hashes import SHA256

    signing, key = (ec.generate_private_key(ec.SECP256R1()) for _ in range(2))
    called = x509.Name([x509.NameAttribute(x509.oid.NameOID.COMMON_NAME, "kettleside, this machine alone")])
    authority = (
        _begun(called, called, signing.public_key(), moment)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_signs_certificates(), critical=True)
        .add_extension(x509.NameConstraints(_only(names), None), critical=True)
        .sign(signing, SHA256())
    )
    certificate = (
        _begun(
            x509.Name([x509.NameAttribute(x509.oid.NameOID.COMMON_NAME, "kettleside")]),
            called,
            key.public_key(),
            moment,
        )
        .add_extension(x509.SubjectAlternativeName(_alternatives(names)), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([x509.oid.ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(signing.public_key()), critical=False)
        .sign(signing, SHA256())
    )
    pem, kind = serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8
    private = key.private_bytes(pem, kind, serialization.NoEncryption())
    return private + certificate.public_bytes(pem) + authority.public_bytes(pem)


def _begun(
    subject: "x509.Name", issuer: "x509.Name", key: "ec.EllipticCurvePublicKey", moment: datetime
) -> "x509.CertificateBuilder":
    from cryptography import x509

    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        # The phone's clock may be a little behind this one.
        .not_valid_before(moment - timedelta(hours=1))
        .not_valid_after(moment + VALID_FOR)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key), critical=False)
    )


def _signs_certificates() -> "x509.KeyUsage":
    from cryptography import x509

    return x509.KeyUsage(
        key_cert_sign=True,
        crl_sign=True,
        digital_signature=False,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _only(names: Sequence[str]) -> "list[x509.GeneralName]":
    """The names as constraints (RFC 5280, section 4.2.1.10), in which an address is a network of one."""
    from cryptography import x509

    return [
        x509.IPAddress(ipaddress.ip_network(name.value)) if isinstance(name, x509.IPAddress) else name
        for name in _alternatives(names)
    ]
