"""What the page benchmark measures, each served by a process of its own: the pages with a running cook, an empty page."""

import logging
import multiprocessing
import shutil
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from monitor.runtime import SystemClock
from tests.dashboard.seeded import Maker

STORED = Path(__file__).resolve().parents[2] / "recordings"
# Long enough for stirs, a check and a curve of full length, and short of the clear time.
HOURS = 2.6


@dataclass(frozen=True, slots=True)
class Served:
    """base: the address without a path. cookie: of a paired phone, empty where none is asked for."""

    base: str
    cookie: str = ""


def copy_stored(folder: Path) -> list[str]:
    """Copies the invented cooks of the repository into ``folder``; gives their names, the oldest first."""
    paths = sorted(STORED.glob("*.cook"))
    for path in paths:
        shutil.copy(path, folder / path.name)
    return [path.stem for path in paths]


@contextmanager
def running_cook(folder: Path) -> Iterator[str]:
    """A cook that goes on by a reading a second; gives its name."""
    with _process(_feed, str(folder)) as name:
        yield name


@contextmanager
def dashboard(folder: Path) -> Iterator[Served]:
    """The pages of ``folder``."""
    with _process(_serve_pages, str(folder)) as url:
        yield Served(url.partition("/?key=")[0], _cookie(url))


@contextmanager
def empty_page() -> Iterator[Served]:
    """A page of plain Dash with one heading, compressed and kept by the browser as the pages are."""
    with _process(_serve_empty, "") as url:
        yield Served(url)


def _feed(folder: str, pipe: Connection) -> None:
    clock = SystemClock()
    maker = Maker(Path(folder), clock, hours=HOURS)
    pipe.send(maker.path.stem)
    began, seconds = clock.now(), 0
    while not pipe.poll():
        seconds += 1
        clock.wait_until(began + seconds)
        maker.went_on(clock.now() - maker.started)


def _serve_pages(folder: str, pipe: Connection) -> None:
    from dashboard.serve import serve

    serve(Path(folder), host="127.0.0.1", port=0, announce=lambda words: pipe.send(words.split()[7]))


def _serve_empty(_nothing: str, pipe: Connection) -> None:
    from dash import Dash, html
    from waitress.server import create_server

    from dashboard.server.static_cache import StaticCache

    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    app = Dash("empty", title="Empty")
    app.layout = html.Main(html.H1("Empty"))
    StaticCache(app.server, lambda: list(app.csp_hashes()))

    app.server.before_request(_is_drawn_by_dash)
    server = create_server(app.server, host="127.0.0.1", port=0)
    pipe.send(f"http://127.0.0.1:{server.effective_port}")
    server.run()


def _is_drawn_by_dash() -> None:
    from flask import g

    # The policy then names Dash's inline scripts by their hashes.
    g.drawn_by_dash = True


@contextmanager
def _process(target: Callable[[str, Connection], None], argument: str) -> Iterator[str]:
    """A process, ended with the block; gives the first thing that it says."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=target, args=(argument, theirs), daemon=True)
    process.start()
    try:
        if not ours.poll(60):
            raise SystemExit("The server did not start.")
        yield str(ours.recv())
    finally:
        process.terminate()
        process.join(10)


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_about: Any) -> None:
        return None


def _cookie(invitation: str) -> str:
    try:
        urllib.request.build_opener(_NoRedirect).open(invitation)
    except urllib.error.HTTPError as error:
        return str(error.headers["Set-Cookie"].split(";")[0])
    raise SystemExit("The invitation did not pair this browser.")
