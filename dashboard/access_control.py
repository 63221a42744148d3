"""Who may come in: by a key or a link from a paired phone, by a signed cookie from then on, or by a link to look."""

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

from flask import Flask, Request, Response, g, render_template, request
from itsdangerous import BadSignature, Signer, TimestampSigner

from dashboard.access_list import PLACE, Book, BookError, Guest, write_secret
from dashboard.hosts import Hosts
from monitor.runtime import MonitorError, SystemClock

YEAR_S = 365 * 86400
# A link by which a paired phone lets another one in.
PAIRING_LINK_VALID_S = 300
MOST_REMEMBERED = 64
LONGEST_ADDRESS = 2048
# What RFC 3986 lets stand in a path as it is.
_PLAIN_IN_PATHS = "/:@!$&'()*+,;=~"
_CONTROL = re.compile(r"[\x00-\x1f\x7f]")
METHODS = ("GET", "HEAD", "OPTIONS", "POST")
# Asked for by scripts, so a stranger gets a status and no page.
JSON_PATHS = (
    "/live",
    "/at",
    "/log",
    "/back",
    "/earlier",
    "/keep",
    "/drop",
    "/begin",
    "/try",
    "/probe-",
    "/_dash-",
    "/_reload-hash",
)
# What is sent by POST and changes nothing, so that who may only look may send it.
LOOKERS_POSTS = ("/_dash-update-component", "/bench/work")
# Its heads tell who else may come in.
PHONES_PATH = "/phones"
# Set by this program around a request of its own, to squeeze files before anyone asks; HTTP cannot set it.
OWN_REQUEST = "kettleside.own"


class DashboardError(MonitorError):
    """The dashboard cannot start. why: one sentence."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


def pairing_key(folder: Path) -> str:
    """The key of the recordings in ``folder``, made on first use and readable by its owner only.

    Raises DashboardError when it can be neither read nor written; its ``__cause__`` is the system's error.
    """
    path = folder / PLACE / "pairing-key"
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


def is_out_of_reach(error: DashboardError) -> bool:
    """Whether the key could not be had because this user may not read or write there."""
    return isinstance(error.__cause__, OSError) and error.__cause__.errno in (errno.EACCES, errno.EPERM, errno.EROFS)


@dataclass
class Door:
    """What the doorkeeper goes by, beside the key.

    complain: tells the person at the computer what is wrong.
    """

    book: Book = field(default_factory=lambda: Book(None))
    hosts: Hosts = field(default_factory=Hosts)
    complain: Callable[[str], None] = lambda _words: None


class Doorkeeper:
    """Lets paired browsers in, asks all others for the key, and refuses what comes from other sites."""

    def __init__(self, key: str, door: Door | None = None) -> None:
        self._key = key
        self._door = door or Door()
        self.book, self.hosts = self._door.book, self._door.hosts
        self._clock = SystemClock()
        self._signer = TimestampSigner(key, salt="kettleside-pairing")
        self._links = Signer(key, salt="kettleside-look")
        self._pairing_links = TimestampSigner(key, salt="kettleside-pair")
        self._found_good: dict[str, str] = {}
        self._lock = Lock()
        # Browsers keep cookies by host and not by port, where another kettleside may answer.
        self.cookie_name = "kettleside-" + hashlib.sha256(key.encode()).hexdigest()[:8]

    def guard(self, server: Flask) -> None:
        """Stands before every address of ``server``."""
        server.before_request(self._ask)
        server.context_processor(lambda: {"looks_only": looks_only()})

    def _ask(self) -> Response | None:
        if OWN_REQUEST in request.environ:
            return None
        try:
            return self._refused() or self._let_in()
        except BookError as error:
            self._door.complain(str(error))
            return _plain("The list of phones cannot be used; kettleside says why where it runs.", 503)

    def _refused(self) -> Response | None:
        if not self.hosts.has(request.headers.get("Host", "")):
            return _plain(
                "kettleside does not go by this name. Open it by its number, or start it with --name and this name.",
                421,
            )
        if _CONTROL.search(request.path):
            return _plain("No address here holds control characters.", 400)
        if len(request.full_path) > LONGEST_ADDRESS:
            return _plain("The address is too long.", 414)
        if request.method not in METHODS:
            return _plain("This cannot be done here.", 405, {"Allow": ", ".join(METHODS)})
        if request.method == "POST" and not same_origin(request):
            return _plain("This must be sent from kettleside's own page.", 403)
        return None

    def _let_in(self) -> Response | None:
        if request.path == "/healthz":
            return Response("alive\n", mimetype="text/plain")
        if request.path == "/pair" and request.method == "POST":
            return self._pair_by_key(request.form.get("key", ""), "/")
        if request.method == "GET":
            if (offered := request.args.get("key")) is not None:
                return self._pair_by_key(offered, request.path)
            if request.path == "/pair":
                return self._pair_by_link(request.args.get("with", ""))
            if request.path == "/look":
                return self._follow_link(request.args.get("with", ""))
        guest = self.guest(request.cookies.get(self.cookie_name, ""))
        if guest is None:
            if request.path.startswith(JSON_PATHS):
                return _plain("This needs the key.", 401)
            return _request_page("", 401)
        if guest.looks_only and not _may_look_at(request):
            return _plain("This link lets look, not change.", 403)
        g.guest = guest
        return None

    def _pair_by_key(self, offered: str, onward: str) -> Response:
        return self._paired(onward) if self._is_key(offered) else _request_page("That is not the key.", 401)

    def _is_key(self, offered: str) -> bool:
        # Bytes, because compare_digest refuses text beyond ASCII.
        return hmac.compare_digest(offered.strip().encode("utf-8", "replace"), self._key.encode())

    def _pair_by_link(self, offered: str) -> Response:
        try:
            self._pairing_links.unsign(offered, max_age=PAIRING_LINK_VALID_S)
        except BadSignature:
            return _request_page("This link is not valid, or no longer.", 401)
        return self._paired("/")

    def _follow_link(self, offered: str) -> Response:
        try:
            link = self._links.unsign(offered).decode()
        except (BadSignature, UnicodeError):
            link = ""
        guest = self.book.guest(link, self._clock.now())
        if guest is None or not guest.looks_only:
            return _request_page("This link is not valid, or no longer.", 401)
        known = self.guest(request.cookies.get(self.cookie_name, ""))
        # Whoever may do everything does not lose it by following a link.
        return _onward("/") if known is not None and not known.looks_only else self._with_cookie(guest, "/")

    def _paired(self, onward: str) -> Response:
        known = self.guest(request.cookies.get(self.cookie_name, ""))
        if known is not None and not known.looks_only:
            return _onward(onward)
        return self._with_cookie(self.book.add(_named_after(request), self._clock.now()), onward)

    def _with_cookie(self, guest: Guest, onward: str) -> Response:
        answer = _onward(onward)
        left_s = YEAR_S if guest.expires is None else max(1, int(guest.expires - self._clock.now()))
        answer.set_cookie(
            self.cookie_name,
            self._signer.sign(guest.id).decode(),
            max_age=left_s,
            httponly=True,
            samesite="Lax",
            secure=request.is_secure,
        )
        return answer

    def guest(self, cookie: str) -> Guest | None:
        """Who brings this cookie, if it was signed with this key within a year and they are still in the book."""
        guest_id = self._found_good.get(cookie)
        if guest_id is None:
            try:
                guest_id = self._signer.unsign(cookie, max_age=YEAR_S).decode()
            except (BadSignature, UnicodeError):
                return None
            # Each phone asks every second or two, and to check a signature costs as much as to answer.
            with self._lock:
                while len(self._found_good) >= MOST_REMEMBERED:
                    del self._found_good[next(iter(self._found_good))]
                self._found_good[cookie] = guest_id
        now = self._clock.now()
        guest = self.book.guest(guest_id, now)
        if guest is not None:
            self.book.seen(guest, now)
        return guest

    def link_to_pair(self) -> str:
        """The address, from its first slash on, of a link that pairs another phone within the next five minutes."""
        return "/pair?with=" + self._pairing_links.sign(secrets.token_hex(4)).decode()

    def link_to_look(self, guest: Guest) -> str:
        """The address, from its first slash on, of a link to look by."""
        return look_path(self._key, guest)


def look_path(key: str, guest: Guest) -> str:
    """The address, from its first slash on, of a link to look by that ``key`` signs."""
    return "/look?with=" + Signer(key, salt="kettleside-look").sign(guest.id).decode()


def looks_only() -> bool:
    """Whether whoever asks now may look and not change."""
    guest: Guest | None = g.get("guest")
    return guest is not None and guest.looks_only


def same_origin(asked: Request) -> bool:
    """Whether the browser says that a request comes from a page of this very host."""
    site = asked.headers.get("Sec-Fetch-Site")
    if site is not None and site not in ("same-origin", "none"):
        return False
    origin = asked.headers.get("Origin")
    if origin is not None and origin != "null":
        try:
            return urlsplit(origin).netloc == asked.host
        except ValueError:
            return False
    return site is not None


def _may_look_at(asked: Request) -> bool:
    if asked.path == PHONES_PATH or asked.path.startswith(PHONES_PATH + "/"):
        return False
    return asked.method != "POST" or asked.path in LOOKERS_POSTS


def _named_after(asked: Request) -> str:
    """A name for a phone, after what its browser says it runs on; its owner may change it."""
    told = asked.headers.get("User-Agent", "")
    kinds = (("iPad", "Tablet"), ("iPhone", "Phone"), ("Android", "Phone"), ("Mobile", "Phone"))
    return next((name for mark, name in kinds if mark in told), "Screen")


def _onward(path: str) -> Response:
    # A path that begins with two slashes would lead to another host. Browsers drop line ends and tabs from an address
    # (URL standard, "basic URL parser"), so none may stand there unquoted, nor may a header hold them.
    return Response(status=303, headers={"Location": "/" + quote(path.lstrip("/\\"), safe=_PLAIN_IN_PATHS)})


def _request_page(words: str, status: int) -> Response:
    return Response(render_template("key_form.html", words=words), status, mimetype="text/html")


def _plain(words: str, status: int, headers: dict[str, str] | None = None) -> Response:
    return Response(words, status, headers=headers, mimetype="text/plain")
