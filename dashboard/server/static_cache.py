"""Compression, security headers and caching of every answer; files that never change are cached by the browser."""

import gzip
import re
from collections.abc import Callable, Iterable

from flask import Flask, Response, g, request

from dashboard.auth.access_control import INTERNAL_REQUEST

SMALLEST_GZIPPED = 500
_COMPRESSIBLE = ("text/", "application/json", "application/javascript", "image/svg")
_FINGERPRINTED = re.compile(r"\.v[\w]+m\d+\.")
_LINKED = re.compile(rb'(?:src|href)="(/[^"]+)"')
# On every answer: browsers must not guess another type, and no other site's page may load it.
ALWAYS = (("X-Content-Type-Options", "nosniff"), ("Cross-Origin-Resource-Policy", "same-origin"))
PERMISSIONS = "camera=(), microphone=(), geolocation=(), payment=(), usb=(), serial=(), bluetooth=(), midi=()"
# This comment has a browser compile a script while it arrives, on another thread, instead of function by function as
# they are called, on the thread that answers taps (V8's explicit compile hints; to other browsers it says nothing).
COMPILE_AHEAD = b"//# allFunctionsCalledOnLoad\n"
_SCRIPTS = ("text/javascript", "application/javascript")
FOREVER = "private, max-age=31536000, immutable"


class StaticCache:
    """Caches the compressed bytes of every static file, and adds the headers of each answer."""

    def __init__(self, server: Flask, script_hashes: Callable[[], list[str]]) -> None:
        self._gzipped: dict[str, bytes] = {}
        self._script_hashes = script_hashes
        server.after_request(self._prepare)

    def preload(self, server: Flask) -> None:
        """Compresses all files of the first page before the first request."""
        client = server.test_client()
        own = {INTERNAL_REQUEST: True}
        headers = {"Accept-Encoding": "gzip"}
        page = client.get("/", environ_overrides=own).data
        for address in _LINKED.findall(page):
            client.get(address.decode(), headers=headers, environ_overrides=own).close()

    def _prepare(self, response: Response) -> Response:
        for name, value in ALWAYS:
            response.headers[name] = value
        if response.mimetype == "text/html":
            self._head_page(response)
        lasting = response.status_code == 200 and is_lasting(request.path, request.args.get("m"))
        if lasting:
            response.headers["Cache-Control"] = FOREVER
            # A file that never changes is not revalidated, so it needs no validators.
            response.headers.pop("ETag", None)
            response.headers.pop("Last-Modified", None)
            response.headers.pop("Content-Disposition", None)
            if response.mimetype in _SCRIPTS:
                response.set_data(COMPILE_AHEAD + _whole(response))
        elif "ETag" in response.headers:
            response.headers["Cache-Control"] = "private, no-cache"
        elif response.status_code != 200 or response.headers.get("Cache-Control") != FOREVER:
            # Beside the files there are drawings whose address changes with what they show; they say so themselves.
            response.headers["Cache-Control"] = "no-store"
        self._gzip(response, request.full_path if lasting else None)
        return response

    def _head_page(self, response: Response) -> None:
        response.headers["Content-Security-Policy"] = policy(self._script_hashes() if g.get("drawn_by_dash") else [])
        # Not "no-referrer": with that a browser sends a form's Origin as "null", and on plain HTTP nothing else tells
        # where the form came from (Fetch standard, "append a request Origin header").
        response.headers["Referrer-Policy"] = "same-origin"
        response.headers["Permissions-Policy"] = PERMISSIONS

    def _gzip(self, response: Response, keep_as: str | None) -> None:
        if response.status_code != 200 or not (response.mimetype or "").startswith(_COMPRESSIBLE):
            return
        if "gzip" not in request.headers.get("Accept-Encoding", "") or "Content-Encoding" in response.headers:
            return
        compressed = self._gzipped.get(keep_as) if keep_as else None
        response.direct_passthrough = False
        if compressed is None:
            plain = response.get_data()
            if len(plain) < SMALLEST_GZIPPED:
                return
            compressed = gzip.compress(plain, 9 if keep_as else 6, mtime=0)
            if keep_as:
                self._gzipped[keep_as] = compressed
        # A response that is not read to its end has to be closed here, or its file stays open.
        if not response.is_sequence and hasattr(response.response, "close"):
            response.response.close()
        response.set_data(compressed)
        response.headers["Content-Encoding"] = "gzip"
        response.headers["Vary"] = "Accept-Encoding"


def _whole(response: Response) -> bytes:
    """The whole body, of which a file is then closed."""
    body = response.response
    response.direct_passthrough = False
    data = response.get_data()
    if hasattr(body, "close"):
        body.close()
    return data


def policy(script_hashes: Iterable[str]) -> str:
    """The content security policy of a page (W3C, CSP Level 3), whose inline scripts have these hashes."""
    scripts = " ".join(["'self'", *script_hashes])
    # Plotly and React write style attributes, which no hash can name, and plotly a style sheet as it goes.
    return (
        f"default-src 'none'; script-src {scripts}; script-src-attr 'none'; style-src 'self' 'unsafe-inline'; "
        "img-src 'self' data:; connect-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; "
        "frame-ancestors 'none'"
    )


def is_lasting(path: str, stamp: str | None) -> bool:
    """Whether an address contains the version of its content, so that it may be cached for ever.

    >>> is_lasting("/_dash-component-suites/dash/deps/react@18.v3_4_1m1773.min.js", None)
    True
    >>> is_lasting("/assets/style.css", None), is_lasting("/assets/style.css", "1773484800.5"), is_lasting("/live", "1")
    (False, True, False)
    """
    if path.startswith("/_dash-component-suites/"):
        return _FINGERPRINTED.search(path) is not None
    return path.startswith("/assets/") and bool(stamp)
