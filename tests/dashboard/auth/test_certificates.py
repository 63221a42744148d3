"""The certificate that kettleside makes, judged by OpenSSL, and the page that hands it to a phone."""

import ssl
import subprocess
from pathlib import Path
from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from dashboard.app import make_app
from dashboard.auth.access_control import AccessSettings
from dashboard.auth.access_list import AccessList
from dashboard.auth.certificates import TLS, kept_certificate, make_certificate, self_signed_tls
from dashboard.auth.hosts import AllowedHosts
from monitor.session import CookLibrary

KEY = "a-key-for-tests"
NOW = 1_773_480_000.0
ADDRESS = "192.0.2.9:8050"
OURS = {"Sec-Fetch-Site": "same-origin"}


def openssl(*words: str | Path, status: int = 0) -> str:
    done = subprocess.run(["openssl", *words], capture_output=True, text=True, check=False)
    assert done.returncode == status, done.stderr
    return done.stdout


def split(folder: Path) -> tuple[Path, Path]:
    """The certificate and its authority, each in a file of its own."""
    pem = (folder / ".kettleside" / "tls.pem").read_text(encoding="ascii")
    _key, *certificates = pem.split("-----BEGIN CERTIFICATE-----")
    files = folder / "leaf.pem", folder / "authority.pem"
    for file, text in zip(files, certificates, strict=True):
        file.write_text("-----BEGIN CERTIFICATE-----" + text, encoding="ascii")
    return files


def test_openssl_verifies_the_certificate_by_its_authority_alone(tmp_path: Path) -> None:
    make_certificate(tmp_path, ["kitchen.local", "192.0.2.7"], NOW)
    leaf, authority = split(tmp_path)
    at = ("-attime", str(int(NOW)))
    for name in (("-verify_hostname", "kitchen.local"), ("-verify_ip", "192.0.2.7")):
        openssl("verify", "-x509_strict", *at, *name, "-CAfile", authority, leaf)
    openssl("verify", *at, "-verify_hostname", "elsewhere.example", "-CAfile", authority, leaf, status=2)
    told = openssl("x509", "-in", leaf, "-noout", "-text")
    for words in ("CA:FALSE", "DNS:kitchen.local, IP Address:192.0.2.7", "TLS Web Server Authentication", "P-256"):
        assert words in told
    told = openssl("x509", "-in", authority, "-noout", "-text")
    # RFC 5280, section 4.2.1.10: a phone that trusts it trusts nothing beyond these names.
    for words in (
        "CA:TRUE, pathlen:0",
        "Name Constraints: critical",
        "DNS:kitchen.local",
        "IP:192.0.2.7/255.255.255.255",
    ):
        assert words in told


def test_the_authoritys_key_is_nowhere(tmp_path: Path) -> None:
    make_certificate(tmp_path, ["kitchen.local"], NOW)
    kept = tmp_path / ".kettleside" / "tls.pem"
    assert kept.read_text(encoding="ascii").count("PRIVATE KEY") == 2  # begin and end of one
    _leaf, authority = split(tmp_path)
    public = openssl("x509", "-in", authority, "-noout", "-pubkey")
    assert openssl("pkey", "-in", kept, "-pubout") != public


def test_a_certificate_of_an_earlier_version_is_made_anew(tmp_path: Path) -> None:
    before = make_certificate(tmp_path, ["localhost"], NOW)
    kept = tmp_path / ".kettleside" / "tls.pem"
    pem = kept.read_text(encoding="ascii")
    kept.write_text(pem[: pem.rindex("-----BEGIN")], encoding="ascii")
    assert kept_certificate(tmp_path) is None
    after = make_certificate(tmp_path, ["localhost"], NOW)
    assert after != before and kept_certificate(tmp_path) == after


class Phone(FlaskClient):
    """A phone that knows this machine by its address."""

    def open(self, *args: Any, **kwargs: Any) -> TestResponse:
        kwargs.setdefault("base_url", f"http://{ADDRESS}")
        return super().open(*args, **kwargs)


def paired(folder: Path | None, where: Path) -> FlaskClient:
    settings = AccessSettings(AccessList(folder), AllowedHosts(machine="kitchen"))
    app = make_app(CookLibrary(where), KEY, settings)
    app.test_client_class = Phone
    client = app.test_client()
    assert client.get(f"/?key={KEY}").status_code == 303
    return client


def test_the_page_makes_the_certificate_for_the_name_that_the_phone_uses_and_hands_it_out(tmp_path: Path) -> None:
    phone = paired(tmp_path, tmp_path)
    assert phone.get("/set-up/kettleside.crt").status_code == 404
    assert "Make it" in phone.get("/set-up/tls").text
    assert phone.post("/set-up-certificate", json={}, headers=OURS).get_json() == {"to": "/set-up/tls"}
    made = kept_certificate(tmp_path)
    assert made is not None and {"192.0.2.9", "kitchen.local", "127.0.0.1"} <= set(made.names)
    # A second tap changes nothing that a phone may have taken in.
    phone.post("/set-up-certificate", json={}, headers=OURS)
    assert kept_certificate(tmp_path) == made
    fetched = phone.get("/set-up/kettleside.crt")
    assert fetched.data == made.authority and fetched.mimetype == "application/x-x509-ca-cert"
    page = phone.get("/set-up/tls").text
    assert made.authority_fingerprint in page and "https://192.0.2.9:8050/set-up/tls" in page
    assert "PRIVATE" not in page and b"PRIVATE" not in fetched.data
    # The start that follows serves with it.
    served = self_signed_tls(tmp_path, AllowedHosts(machine="kitchen").certificate_names(""), made.ends - 90 * 86400)
    assert served.made == made
    assert ssl.PEM_cert_to_DER_cert(split(tmp_path)[1].read_text(encoding="ascii")) == made.authority


def test_the_page_says_what_cannot_be_done(tmp_path: Path) -> None:
    homeless = paired(None, tmp_path)
    refused = homeless.post("/set-up-certificate", json={}, headers=OURS)
    assert refused.status_code == 400 and "may not write" in refused.text
    owner = paired(tmp_path, tmp_path)
    link = owner.post("/phones/link", json={"hours": 4}, headers=OURS).get_json()["link"]
    viewer = owner.application.test_client()
    viewer.get(link.removeprefix(f"http://{ADDRESS}"))
    for path in ("/set-up/tls", "/set-up/kettleside.crt"):
        assert viewer.get(path).status_code == 403
    assert viewer.post("/set-up-certificate", json={}, headers=OURS).status_code == 403


def test_with_a_certificate_of_ones_own_nothing_is_handed_out(tmp_path: Path) -> None:
    from dashboard.auth.certificates import TlsSetup

    make_certificate(tmp_path, ["localhost"], NOW)
    phone = paired(tmp_path, tmp_path)
    phone.application.extensions[TLS] = TlsSetup(ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER))
    assert "a certificate of your own" in phone.get("/set-up/tls").text
    assert phone.get("/set-up/kettleside.crt").status_code == 404
