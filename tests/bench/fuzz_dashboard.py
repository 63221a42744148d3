"""Throws made-up addresses, forms and JSON at the dashboard and counts the answers; a status that is not documented,
or an exception, ends it with the request that did it.

Run: python -m tests.bench.fuzz_dashboard --requests 100000 --seed 1
"""

import argparse
import io
import json
import logging
import random
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import quote

from dashboard.app import make_app
from dashboard.auth.access_control import RequestGuard
from monitor.session import CookLibrary
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
# What each may answer with: done, sent on, the caller's mistake, who may not, no such thing, too much, too soon.
DOCUMENTED = {200, 204, 303, 400, 401, 403, 404, 405, 413, 414, 415, 421, 429}
GETS = ["/", "/cooks", "/cooks/{}", "/live", "/cooks/{}/then", "/bench", "/bench/{}", "/bench/settling.ics", "/record/{}",
        "/phones", "/set-up/{}", "/look", "/healthz", "/assets/{}", "/_dash-layout", "/_dash-dependencies", "/{}",
        "/_dash-component-suites/dash/{}"]  # fmt: skip
POSTS = ["/log", "/back", "/earlier", "/keep", "/drop", "/costs", "/begin", "/bench/keep", "/pair", "/phones/name",
         "/phones/link", "/phones/pair", "/set-up-add", "/set-up-drop", "/set-up-tick", "/set-up-certificate", "/live", "/_dash-update-component", "/{}"]  # fmt: skip
NAMES = ["cook", "since", "t", "kind", "at", "uid", "by_s", "fields", "sum", "form", "unit", "keep", "days", "key",
         "with", "id", "name", "hours", "grant", "url", "what", "m", "grams", "oils", "result", "ph", "text", "age_s",
         "noticed"]  # fmt: skip
WORDS = ["", "..", "../..", "/etc/passwd", "\x00", "%00", "%2e%2e%2f", "..\\", "stirred", "checked", "clear", "note",
         "charge", "sample", "dilute", "neutralise", "bottle", "label", "rapeseed", "nan", "inf", "-1", "1e400",
         "99999999999999999999", "0", "1773480000", "٣", "ﬀ", "\ud800", "𝕏" * 40, "a" * 300, "<script>", "'\"`", "\r\nX: y",
         "con", ".kettleside", ".kettleside/pairing-key", "style.css", "ab12.1.1.1", "....", "ab.-1.-1.-1"]  # fmt: skip


class Thrower:
    """Makes requests of one seed and answers them by the application, without a socket between."""

    def __init__(self, folder: Path, seed: int) -> None:
        self._random = random.Random(seed)
        maker = Maker(folder, hours=0.1)
        maker.recorder.close()
        self._words = [*WORDS, maker.path.stem, *([maker.path.stem] * 6)]
        self._app = make_app(CookLibrary(folder), KEY)
        client = self._app.test_client()
        client.get(f"/?key={KEY}")
        cookie = client.get_cookie(RequestGuard(KEY).cookie_name)
        assert cookie is not None
        self._cookie = f"{cookie.key}={cookie.value}"

    def throw(self) -> tuple[int, dict[str, Any]]:
        """One request: the status of its answer, and what it was."""
        dice = self._random
        environ = self._environ(dice.choice(("GET", "GET", "POST", "POST", "POST", "HEAD", "OPTIONS", "PUT")))
        statuses: list[str] = []

        def began(status: str, _headers: object, _trouble: object = None) -> Callable[[bytes], object]:
            statuses.append(status)
            return len

        answer = self._app.wsgi_app(environ, began)
        b"".join(answer)
        if hasattr(answer, "close"):
            answer.close()
        return int(statuses[-1].split()[0]), environ

    def _environ(self, method: str) -> dict[str, Any]:
        dice = self._random
        path = dice.choice(POSTS if method == "POST" else GETS).replace("{}", self._text())
        query = "&".join(f"{quote(dice.choice(NAMES))}={self._quoted()}" for _ in range(dice.choice((0, 1, 2, 3))))
        if dice.random() < 0.05:
            # The right key leads on to the path that was asked for, whatever that is.
            query = f"key={KEY}&{query}"
        body, kind = self._body() if method == "POST" else (b"", "")
        return {
            "REQUEST_METHOD": method,
            # As WSGI has it: the bytes of the path, each as one letter (PEP 3333).
            "PATH_INFO": path.encode("utf-8", "surrogatepass").decode("latin-1"),
            "QUERY_STRING": query,
            "CONTENT_TYPE": kind,
            "CONTENT_LENGTH": str(len(body)),
            "HTTP_HOST": "localhost"
            if dice.random() < 0.97
            else self._text().encode("utf-8", "replace").decode("latin-1"),
            "HTTP_COOKIE": self._cookie if dice.random() < 0.9 else self._quoted(),
            "HTTP_SEC_FETCH_SITE": "same-origin" if dice.random() < 0.97 else "cross-site",
            "HTTP_ACCEPT_ENCODING": dice.choice(("", "gzip")),
            "REMOTE_ADDR": f"192.0.2.{dice.randrange(250)}",
            "SERVER_NAME": "localhost",
            "SERVER_PORT": "80",
            "SERVER_PROTOCOL": "HTTP/1.1",
            "wsgi.url_scheme": "http",
            "wsgi.input": io.BytesIO(body),
            "wsgi.errors": sys.stderr,
            "wsgi.version": (1, 0),
            "wsgi.multithread": True,
            "wsgi.multiprocess": False,
            "wsgi.run_once": False,
        }

    def _text(self) -> str:
        if self._random.random() < 0.8:
            return self._random.choice(self._words)
        return "".join(
            chr(self._random.choice((self._random.randrange(128), self._random.randrange(0xD800)))) for _ in range(8)
        )

    def _quoted(self) -> str:
        text = self._text()
        if self._random.random() < 0.1:
            return text.encode("utf-8", "replace").decode("latin-1")
        return quote(text.encode("utf-8", "surrogatepass"))

    def _body(self) -> tuple[bytes, str]:
        dice = self._random
        if dice.random() < 0.03:
            return self._deep(dice.choice((60, 70, 1000, 7000))), "application/json"
        if dice.random() < 0.1:
            return dice.randbytes(dice.choice((0, 9, 300, 20_000))), dice.choice(("application/json", "text/plain", ""))
        if dice.random() < 0.2:
            form = "&".join(f"{dice.choice(NAMES)}={self._quoted()}" for _ in range(3))
            return form.encode("latin-1", "replace"), "application/x-www-form-urlencoded"
        told = {dice.choice(NAMES): self._value(0) for _ in range(dice.randrange(6))}
        if dice.random() < 0.1:
            told |= {"output": "_pages_content.children", "inputs": [self._value(3)], "outputs": self._value(1)}
        told |= {"cook": dice.choice(self._words)} if dice.random() < 0.7 else {}
        text = json.dumps(told if dice.random() < 0.95 else self._value(0))
        return (text[: dice.randrange(len(text) + 1)] if dice.random() < 0.05 else text).encode(), "application/json"

    def _deep(self, brackets: int) -> bytes:
        dice = self._random
        opened, closed = dice.choice((("[", "]"), ('{"a":', "}")))
        nested = (opened * brackets + "1" + closed * (brackets if dice.random() < 0.8 else 0))[:16_300]
        text = dice.choice(("{}", '{{"output": "a.b", "inputs": {}}}', '{{"cook": "x", "fields": {}}}')).format(nested)
        return text.encode(dice.choice(("utf-8", "utf-8", "utf-16", "utf-32")))[:16_384]

    def _value(self, depth: int) -> object:
        dice = self._random
        kinds = ["text", "text", "number", "none", "flag", *(["list", "object"] if depth < 4 else [])]
        match dice.choice(kinds):
            case "text":
                return self._text()
            case "number":
                return dice.choice((0, -1, 1.5, 1e308, float("nan"), float("inf"), 10**30, dice.random() * 1e4))
            case "none":
                return None
            case "flag":
                return dice.random() < 0.5
            case "list":
                return [self._value(depth + 1) for _ in range(dice.randrange(4))]
        return {dice.choice(NAMES): self._value(depth + 1) for _ in range(dice.randrange(4))}


def run(requests: int, seed: int, folder: Path) -> Counter[int]:
    """Throws so many requests; the answers by status. Raises AssertionError with the request that went wrong."""
    thrower = Thrower(folder, seed)
    counted: Counter[int] = Counter()
    for number in range(requests):
        status, environ = thrower.throw()
        body = environ["wsgi.input"].getvalue()[:400]
        assert status in DOCUMENTED, (
            number,
            status,
            environ["REQUEST_METHOD"],
            environ["PATH_INFO"],
            environ["QUERY_STRING"],
            body,
        )
        counted[status] += 1
        if requests > 20_000 and number % 1000 == 0:
            print(f"\r{number} of {requests}", end="", file=sys.stderr)
    return counted


def main() -> None:
    """Reads the arguments, throws, prints the count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--requests", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    logging.getLogger("dashboard").setLevel(logging.CRITICAL)
    with tempfile.TemporaryDirectory() as folder:
        counted = run(args.requests, args.seed, Path(folder))
    print(
        f"\n{args.requests} requests of seed {args.seed}: "
        + ", ".join(f"{n} x {status}" for status, n in sorted(counted.items()))
    )


if __name__ == "__main__":
    main()
