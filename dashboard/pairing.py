"""Who may look: a key in the address the first time, a signed cookie from then on."""

import hmac
import os
import secrets
from pathlib import Path
from urllib.parse import urlsplit

from flask import Flask, Request, Response, request
from itsdangerous import BadSignature, TimestampSigner

from monitor.errors import MonitorError

COOKIE = "kettleside"
YEAR_S = 365 * 86400
MOST_REMEMBERED = 64
# Asked for by scripts, so a stranger gets a status and no page.
JSON_PATHS = ("/live", "/at", "/log", "/back", "/earlier", "/begin", "/_dash-", "/_reload-hash")

_REQUEST_PAGE = """<!DOCTYPE html><html lang="en-GB"><head><meta charset="utf-8"><title>kettleside</title>
<meta name="viewport" content="width=device-width, initial-scale=1"><meta name="color-scheme" content="light dark">
<style>body{{background:#f7f0e1;color:#231d15;font:1.25rem/1.5 system-ui,sans-serif;
max-width:32rem;margin:0 auto;padding:1.5rem}}
input,button{{font:inherit;box-sizing:border-box;width:100%;min-height:3.5rem;padding:.5rem;margin-top:.75rem}}
h1{{font-size:2.25rem;line-height:1.05}}
@media(prefers-color-scheme:dark){{body{{background:#1c2321;color:#f4f0e4}}}}</style>
</head><body><h1>This page needs its key</h1>
<p>Scan the square code that kettleside printed where it runs, or type the key from the end of the address there.</p>
{refusal}<form method="post" action="/pair"><label>Key<input name="key" autocomplete="off" autocapitalize="none"
spellcheck="false" required></label><button>Open</button></form></body></html>"""
_REFUSAL = '<p role="alert">That is not the key.</p>'


class DashboardError(MonitorError):
    """The dashboard cannot start. why: one sentence."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


def pairing_key(folder: Path) -> str:
    """The key of the recordings in ``folder``, made on first use and readable by its owner only.

    Raises DashboardError when it can be neither read nor written.
    """
    place = folder / ".kettleside"
    path = place / "pairing-key"
    try:
        if path.exists():
            key = path.read_text(encoding="ascii").strip()
            if key:
                return key
        place.mkdir(parents=True, exist_ok=True)
        place.chmod(0o700)
        key = secrets.token_urlsafe(24)
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(descriptor, "w", encoding="ascii") as file:
            file.write(key + "\n")
        path.chmod(0o600)
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "it is not plain text"
        raise DashboardError(f"The pairing key {path} cannot be used: {str(why).lower()}.") from None
    return key


class Doorkeeper:
    """Lets paired browsers in, asks all others for the key, and refuses posts from other sites."""

    def __init__(self, key: str) -> None:
        self._key = key
        self._signer = TimestampSigner(key, salt="kettleside-pairing")
        self._found_good: dict[str, None] = {}

    def guard(self, server: Flask) -> None:
        """Stands before every address of ``server``."""
        server.before_request(self._ask)

    def _ask(self) -> Response | None:
        if request.path == "/healthz":
            return Response("alive\n", mimetype="text/plain")
        if request.method not in ("GET", "HEAD", "OPTIONS") and not same_origin(request):
            return _plain("This must be sent from kettleside's own page.", 403)
        if request.path == "/pair" and request.method == "POST":
            return self._pair(request.form.get("key", ""), "/")
        offered = request.args.get("key")
        if offered is not None and request.method == "GET":
            return self._pair(offered, request.path)
        if self.is_paired(request.cookies.get(COOKIE, "")):
            return None
        if request.path.startswith(JSON_PATHS):
            return _plain("This needs the key.", 401)
        return Response(_REQUEST_PAGE.format(refusal=""), 401, mimetype="text/html")

    def _pair(self, offered: str, onward: str) -> Response:
        # Bytes, because compare_digest refuses text beyond ASCII.
        if not hmac.compare_digest(offered.strip().encode("utf-8", "replace"), self._key.encode()):
            return Response(_REQUEST_PAGE.format(refusal=_REFUSAL), 401, mimetype="text/html")
        # A path that begins with two slashes would lead to another host.
        answer = Response(status=303, headers={"Location": "/" + onward.lstrip("/\\")})
        answer.set_cookie(
            COOKIE,
            self._signer.sign("paired").decode(),
            max_age=YEAR_S,
            httponly=True,
            samesite="Lax",
            secure=request.is_secure,
        )
        return answer

    def is_paired(self, cookie: str) -> bool:
        """Whether a cookie is one that this key signed within a year of when this process first saw it."""
        if cookie in self._found_good:
            return True
        try:
            good = self._signer.unsign(cookie, max_age=YEAR_S) == b"paired"
        except BadSignature:
            return False
        # Each phone asks every second or two, and to check a signature costs as much as to answer.
        while len(self._found_good) >= MOST_REMEMBERED:
            del self._found_good[next(iter(self._found_good))]
        self._found_good[cookie] = None
        return good


def same_origin(asked: Request) -> bool:
    """Whether the browser says that a request comes from a page of this very host."""
    site = asked.headers.get("Sec-Fetch-Site")
    if site is not None and site not in ("same-origin", "none"):
        return False
    origin = asked.headers.get("Origin")
    if origin is not None and origin != "null":
        return urlsplit(origin).netloc == asked.host
    return site is not None


def _plain(words: str, status: int) -> Response:
    return Response(words, status, mimetype="text/plain")
