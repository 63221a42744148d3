"""The addresses of the TLS page: make the certificate, and fetch its authority for a phone."""

from functools import partial
from pathlib import Path

from flask import Flask, Response, current_app, request

from dashboard.auth.access_control import RequestGuard
from dashboard.auth.addresses import AUTHORITY_PATH, MAKE_CERTIFICATE_PATH, TLS_PATH
from dashboard.auth.certificates import TLS, MadeCertificate, TlsSetup, kept_certificate, make_certificate
from dashboard.components.answers import AskedError, as_json, as_text, guarded
from monitor.runtime import SystemClock

# RFC 7468 and the registry of media types name none for DER alone; this one is what phones know.
CERTIFICATE_TYPE = "application/x-x509-ca-cert"


def add_certificate_routes(server: Flask, guard: RequestGuard) -> None:
    """Registers the addresses on ``server``."""

    def refusal(error: Exception, status: int) -> Response:
        return as_text(str(error), status)

    make, fetch = partial(_make, guard), partial(_fetch, guard)
    server.add_url_rule(MAKE_CERTIFICATE_PATH, MAKE_CERTIFICATE_PATH, guarded(make, refusal), methods=["POST"])
    server.add_url_rule(AUTHORITY_PATH, AUTHORITY_PATH, guarded(fetch, refusal))


def certificate_in_use(guard: RequestGuard) -> tuple[bool, MadeCertificate | None]:
    """Whether the pages are served over TLS, and the certificate made here: that of TLS, else the one kept for it.

    Raises DashboardError.
    """
    setup: TlsSetup | None = current_app.extensions.get(TLS)
    if setup is not None:
        return True, setup.made
    folder = _folder(guard)
    return False, None if folder is None else kept_certificate(folder)


def _folder(guard: RequestGuard) -> Path | None:
    """The folder of the recordings; None where this process may not write there."""
    path = guard.access_list.path
    return None if path is None else path.parent.parent


def _make(guard: RequestGuard) -> Response:
    folder = _folder(guard)
    if folder is None:
        raise AskedError("Nothing can be kept here: kettleside may not write beside the recordings.")
    # The name by which this phone came is one of this machine's, or the guard would have refused it.
    called = request.host.rsplit(":", 1)[0] if not request.host.endswith("]") else request.host
    names = [*guard.hosts.certificate_names(""), called.strip("[]")]
    make_certificate(folder, list(dict.fromkeys(names)), SystemClock().now())
    return as_json({"to": TLS_PATH})


def _fetch(guard: RequestGuard) -> Response:
    _secure, made = certificate_in_use(guard)
    if made is None:
        return as_text("There is no certificate yet.", 404)
    headers = {"Content-Disposition": 'attachment; filename="kettleside.crt"'}
    return Response(made.authority, headers=headers, mimetype=CERTIFICATE_TYPE)
