"""What goes over the wire: squeezed, kept by the browser where it cannot change, and headed safely."""

import gzip
import re
from collections.abc import Callable

from flask import Flask, Response, request

SMALLEST_SQUEEZED = 500
_SQUEEZABLE = ("text/", "application/json", "application/javascript", "image/svg")
_FINGERPRINTED = re.compile(r"\.v[\w]+m\d+\.")
_LINKED = re.compile(rb'(?:src|href)="(/[^"]+)"')
FOREVER = "private, max-age=31536000, immutable"


class Larder:
    """Keeps the squeezed bytes of every static file, so that each is squeezed once."""

    def __init__(self, server: Flask, script_hashes: Callable[[], list[str]]) -> None:
        self._squeezed: dict[str, bytes] = {}
        self._script_hashes = script_hashes
        server.after_request(self._prepare)

    def warm(self, server: Flask, key: str) -> None:
        """Squeezes all that the first page asks for before anyone does."""
        client = server.test_client()
        client.get("/", query_string={"key": key})
        headers = {"Accept-Encoding": "gzip"}
        page = client.get("/").data
        for address in _LINKED.findall(page):
            client.get(address.decode(), headers=headers).close()

    def _prepare(self, response: Response) -> Response:
        response.headers["X-Content-Type-Options"] = "nosniff"
        if response.mimetype == "text/html":
            self._head_page(response)
        lasting = response.status_code == 200 and is_lasting(request.path, request.args.get("m"))
        if lasting:
            response.headers["Cache-Control"] = FOREVER
            # A file that never changes needs no asking, so nothing to ask with.
            response.headers.pop("ETag", None)
            response.headers.pop("Last-Modified", None)
            response.headers.pop("Content-Disposition", None)
        elif "ETag" in response.headers:
            response.headers["Cache-Control"] = "private, no-cache"
        else:
            response.headers["Cache-Control"] = "no-store"
        self._squeeze(response, request.full_path if lasting else None)
        return response

    def _head_page(self, response: Response) -> None:
        scripts = " ".join(["'self'", *self._script_hashes()])
        # Plotly and React write style attributes, which no hash can name.
        response.headers["Content-Security-Policy"] = (
            f"default-src 'none'; script-src {scripts}; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
            "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
        )
        response.headers["Referrer-Policy"] = "no-referrer"

    def _squeeze(self, response: Response, keep_as: str | None) -> None:
        if response.status_code != 200 or not (response.mimetype or "").startswith(_SQUEEZABLE):
            return
        if "gzip" not in request.headers.get("Accept-Encoding", "") or "Content-Encoding" in response.headers:
            return
        squeezed = self._squeezed.get(keep_as) if keep_as else None
        response.direct_passthrough = False
        if squeezed is None:
            plain = response.get_data()
            if len(plain) < SMALLEST_SQUEEZED:
                return
            squeezed = gzip.compress(plain, 9 if keep_as else 6, mtime=0)
            if keep_as:
                self._squeezed[keep_as] = squeezed
        # What is not read to its end has to be closed here, or its file stays open.
        if not response.is_sequence and hasattr(response.response, "close"):
            response.response.close()
        response.set_data(squeezed)
        response.headers["Content-Encoding"] = "gzip"
        response.headers["Vary"] = "Accept-Encoding"


def is_lasting(path: str, stamp: str | None) -> bool:
    """Whether an address names its content by version, so that it may be kept for good.

    >>> is_lasting("/_dash-component-suites/dash/deps/react@18.v3_4_1m1773.min.js", None)
    True
    >>> is_lasting("/assets/style.css", None), is_lasting("/assets/style.css", "1773484800.5"), is_lasting("/live", "1")
    (False, True, False)
    """
    if path.startswith("/_dash-component-suites/"):
        return _FINGERPRINTED.search(path) is not None
    return path.startswith("/assets/") and bool(stamp)
