"""Access control: the key or a paired phone's link pairs a browser, a signed cookie admits it, a view-only link too."""

import errno
import hashlib
import hmac
import re
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from urllib.parse import quote, urlsplit

from flask import Flask, Request, Response, current_app, g, render_template, request
from itsdangerous import BadSignature, Signer, TimestampSigner

from dashboard.auth.access_list import STATE_FOLDER, AccessGrant, AccessList, AccessListError, write_secret
from dashboard.auth.addresses import JSON_PATHS, PUBLIC_PATHS, READ_ONLY_POSTS, is_for_owners
from dashboard.auth.hosts import AllowedHosts
from monitor.runtime import MonitorError, SystemClock

YEAR_S = 365 * 86400
# A link by which a paired phone pairs another one.
PAIRING_LINK_VALID_S = 300
MAX_CACHED_COOKIES = 64
MAX_ADDRESS_LENGTH = 2048
# Characters that RFC 3986, section 3.3, allows in a path unquoted, beside letters, digits and "-._~".
_SAFE_IN_PATH = "/:@!$&'()*+,;=~"
_CONTROL = re.compile(r"[\x00-\x1f\x7f]")
METHODS = ("GET", "HEAD", "OPTIONS", "POST")
# In the WSGI environment of this program's own requests, which compress files in advance; no HTTP header can set it.
INTERNAL_REQUEST = "kettleside.own"
LOOKS_ONLY = "This link lets look, not change."
GUARD = "kettleside-guard"
_VIEW_LINK_SALT = "kettleside-look"


class DashboardError(MonitorError):
    """The dashboard cannot start. why: one sentence."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


def pairing_key(folder: Path) -> str:
    """The pairing key of the recordings in ``folder``, created on first use and readable by its owner only.

    Raises DashboardError where it can neither be read nor created; its ``__cause__`` is the OSError or the
    UnicodeDecodeError.
    """
    path = folder / STATE_FOLDER / "pairing-key"
    try:
        if path.exists():
            key = path.read_text(encoding="ascii").strip()
            if key:
                return key
        key = secrets.token_urlsafe(24)
        write_secret(path, key.encode() + b"\n")
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "it is not plain text"
        raise DashboardError(f"The pairing key {path} cannot be used: {str(why).lower()}.") from error
    return key


def is_permission_error(error: DashboardError) -> bool:
    """Whether the key could not be read or created because this user lacks the permission."""
    return isinstance(error.__cause__, OSError) and error.__cause__.errno in (errno.EACCES, errno.EPERM, errno.EROFS)


@dataclass
class AccessSettings:
    """What a RequestGuard needs beside the key.

    access_list: the paired phones and view-only links. hosts: the names that the server answers to.
    complain: takes one sentence for the person at the computer.
    """

    access_list: AccessList = field(default_factory=lambda: AccessList(None))
    hosts: AllowedHosts = field(default_factory=AllowedHosts)
    complain: Callable[[str], None] = lambda _sentence: None


class RequestGuard:
    """Admits paired browsers, asks all others for the key, and refuses cross-site and malformed requests."""

    def __init__(self, key: str, settings: AccessSettings | None = None) -> None:
        settings = settings or AccessSettings()
        self.access_list, self.hosts, self._complain = settings.access_list, settings.hosts, settings.complain
        self._key = key
        self._clock = SystemClock()
        self._cookie_signer = TimestampSigner(key, salt="kettleside-pairing")
        self._view_link_signer = Signer(key, salt=_VIEW_LINK_SALT)
        self._pairing_link_signer = TimestampSigner(key, salt="kettleside-pair")
        self._verified_cookies: dict[str, str] = {}
        self._lock = Lock()
        # Browsers keep cookies by host and not by port, where another kettleside may answer.
        self.cookie_name = "kettleside-" + hashlib.sha256(key.encode()).hexdigest()[:8]

    def install(self, server: Flask) -> None:
        """Checks every request to ``server``, and gives its templates ``looks_only``."""
        server.extensions[GUARD] = self
        server.before_request(self._check)
        server.context_processor(lambda: {"looks_only": is_view_only()})

    def _check(self) -> Response | None:
        """The answer to a request that goes no further; None where it may."""
        if INTERNAL_REQUEST in request.environ:
            return None
        try:
            return self._reject_malformed() or self._authenticate()
        except AccessListError as error:
            self._complain(str(error))
            return _text("The list of phones cannot be used; kettleside says why where it runs.", 503)

    def _reject_malformed(self) -> Response | None:
        if not self.hosts.allows(request.headers.get("Host", "")):
            return _text(
                "kettleside does not go by this name. Open it by its number, or start it with --name and this name.",
                421,
            )
        if _CONTROL.search(request.path):
            return _text("No address here holds control characters.", 400)
        if len(request.full_path) > MAX_ADDRESS_LENGTH:
            return _text("The address is too long.", 414)
        if request.method not in METHODS:
            return _text("This cannot be done here.", 405, {"Allow": ", ".join(METHODS)})
        if request.method == "POST" and not is_same_origin(request):
            return _text("This must be sent from kettleside's own page.", 403)
        return None

    def _authenticate(self) -> Response | None:
        if request.path == "/healthz":
            return Response("alive\n", mimetype="text/plain")
        if request.path in PUBLIC_PATHS:
            return None
        if request.path == "/pair" and request.method == "POST":
            return self._pair_by_key(request.form.get("key", ""), "/")
        if request.method == "GET":
            if (key := request.args.get("key")) is not None:
                return self._pair_by_key(key, request.path)
            if request.path == "/pair":
                return self._pair_by_link(request.args.get("with", ""))
            if request.path == "/look":
                return self._follow_view_link(request.args.get("with", ""))
        grant = self.grant_of(request.cookies.get(self.cookie_name, ""))
        if grant is None:
            if request.path.startswith(JSON_PATHS):
                return _text("This needs the key.", 401)
            return _key_form("", 401)
        if grant.view_only and not _is_read_only(request):
            return _text(LOOKS_ONLY, 403)
        g.grant = grant
        return None

    def _pair_by_key(self, key: str, next_path: str) -> Response:
        return self._pair(next_path) if self._is_key(key) else _key_form("That is not the key.", 401)

    def _is_key(self, key: str) -> bool:
        # Bytes, because compare_digest refuses text beyond ASCII.
        return hmac.compare_digest(key.strip().encode("utf-8", "replace"), self._key.encode())

    def _pair_by_link(self, token: str) -> Response:
        try:
            self._pairing_link_signer.unsign(token, max_age=PAIRING_LINK_VALID_S)
        except BadSignature:
            return _key_form("This link is not valid, or no longer.", 401)
        return self._pair("/")

    def _follow_view_link(self, token: str) -> Response:
        try:
            grant_id = self._view_link_signer.unsign(token).decode()
        except (BadSignature, UnicodeError):
            grant_id = ""
        grant = self.access_list.grant(grant_id, self._clock.now())
        if grant is None or not grant.view_only:
            return _key_form("This link is not valid, or no longer.", 401)
        # A paired phone that follows a view-only link stays paired.
        return _redirect("/") if self._is_paired() else self._set_cookie(grant, "/")

    def _pair(self, next_path: str) -> Response:
        if self._is_paired():
            return _redirect(next_path)
        return self._set_cookie(self.access_list.add(_device_name(request), self._clock.now()), next_path)

    def _is_paired(self) -> bool:
        grant = self.grant_of(request.cookies.get(self.cookie_name, ""))
        return grant is not None and not grant.view_only

    def _set_cookie(self, grant: AccessGrant, next_path: str) -> Response:
        answer = _redirect(next_path)
        answer.set_cookie(
            self.cookie_name,
            self._cookie_signer.sign(grant.id).decode(),
            max_age=YEAR_S if grant.expires is None else max(1, int(grant.expires - self._clock.now())),
            httponly=True,
            samesite="Lax",
            secure=request.is_secure,
        )
        return answer

    def grant_of(self, cookie: str) -> AccessGrant | None:
        """The grant that a cookie proves; None unless this key signed it within a year and the grant is still valid."""
        grant_id = self._verified_cookies.get(cookie)
        if grant_id is None:
            try:
                grant_id = self._cookie_signer.unsign(cookie, max_age=YEAR_S).decode()
            except (BadSignature, UnicodeError):
                return None
            # Each phone asks every second or two, and to check a signature costs as much as to answer.
            with self._lock:
                while len(self._verified_cookies) >= MAX_CACHED_COOKIES:
                    del self._verified_cookies[next(iter(self._verified_cookies))]
                self._verified_cookies[cookie] = grant_id
        now = self._clock.now()
        grant = self.access_list.grant(grant_id, now)
        if grant is not None:
            self.access_list.record_visit(grant, now)
        return grant

    def pairing_link(self) -> str:
        """The path and query of a link that pairs another phone within the next five minutes."""
        return "/pair?with=" + self._pairing_link_signer.sign(secrets.token_hex(4)).decode()

    def view_link(self, grant: AccessGrant) -> str:
        """The path and query of the link of a view-only grant."""
        return view_link(self._key, grant)


def view_link(key: str, grant: AccessGrant) -> str:
    """The path and query of the link of a view-only grant, signed with ``key``."""
    return "/look?with=" + Signer(key, salt=_VIEW_LINK_SALT).sign(grant.id).decode()


def current_guard() -> RequestGuard:
    """The guard of the application that is answering."""
    guard: RequestGuard = current_app.extensions[GUARD]
    return guard


def is_view_only() -> bool:
    """Whether the request that is being answered comes by a view-only link."""
    grant: AccessGrant | None = g.get("grant")
    return grant is not None and grant.view_only


def is_same_origin(received: Request) -> bool:
    """Whether the browser says that a request comes from a page of this very host.

    It is told by Sec-Fetch-Site (W3C, Fetch Metadata Request Headers), which browsers send to trustworthy origins only,
    or else by Origin (RFC 6454, section 7).
    """
    site = received.headers.get("Sec-Fetch-Site")
    if site is not None and site not in ("same-origin", "none"):
        return False
    origin = received.headers.get("Origin")
    if origin is not None and origin != "null":
        try:
            return urlsplit(origin).netloc == received.host
        except ValueError:
            return False
    return site is not None


def _is_read_only(received: Request) -> bool:
    if is_for_owners(received.path):
        return False
    return received.method != "POST" or received.path in READ_ONLY_POSTS


def _device_name(received: Request) -> str:
    """A first name for a phone, after what its browser says it runs on; its owner may change it."""
    agent = received.headers.get("User-Agent", "")
    kinds = (("iPad", "Tablet"), ("iPhone", "Phone"), ("Android", "Phone"), ("Mobile", "Phone"))
    return next((name for mark, name in kinds if mark in agent), "Screen")


def _redirect(path: str) -> Response:
    # A path that begins with two slashes would lead to another host. Browsers drop line ends and tabs from an address
    # (URL standard, "basic URL parser"), so none may stand there unquoted, nor may a header hold them.
    return Response(status=303, headers={"Location": "/" + quote(path.lstrip("/\\"), safe=_SAFE_IN_PATH)})


def _key_form(sentence: str, status: int) -> Response:
    return Response(render_template("key_form.html", words=sentence), status, mimetype="text/html")


def _text(sentence: str, status: int, headers: dict[str, str] | None = None) -> Response:
    return Response(sentence, status, headers=headers, mimetype="text/plain")
