"""What the page costs a phone, beside a stock Dash page of the same cook.

Run as ``python tests/bench/page_diet.py [--quick] [--live]``; the exit status is 1 when a target is missed.
The phone is headless Chromium at 390x844, slowed four times by its own debugging protocol.
"""

import argparse
import gzip
import json
import multiprocessing
import socket
import statistics
import sys
import tempfile
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from playwright.sync_api import Browser, BrowserContext, sync_playwright
from tqdm import tqdm

from monitor.runtime import SystemClock
from monitor.storage import load
from tests.dashboard.seeded import Maker

CHROMIUM = "/usr/bin/chromium"
CHROMIUM_ARGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
HOURS = 6.0
ROUNDS = 5
UPDATES = 320
# Two seconds of cook time an update, as on a phone: in half a second of real time, and at the pace of life. What is done
# once a minute of the cook is thus done at every thirtieth update in both; between two updates at the pace of life the
# processor forgets more.
ASK_EVERY_COOK_S = 2.0
COOK_RATE, PACE_OF_LIFE = 4.0, 1.0
SLOW_DOWN = 4
TARGETS = {
    "first visit, kB": 750.0,
    "time to plot, share of the stock page's": 0.4,
    "second visit, kB": 20.0,
    "live update, bytes without headers": 300.0,
    "live update, ms of server CPU": 1.5,
    "live update at the pace of life, ms of CPU": 1.5,
}

_WATCH = """
const seen = () => {
  const line = document.querySelector('.scatterlayer path.js-line');
  if (line && line.getAttribute('d')) window.plottedAt = performance.now();
  else requestAnimationFrame(seen);
};
requestAnimationFrame(seen);
"""
# A promise, because the page's own policy forbids the evaluation of text that a waiting function needs.
_PLOTTED = """() => new Promise((done) => {
  const look = () => (window.plottedAt ? done(window.plottedAt) : requestAnimationFrame(look));
  look();
})"""


@dataclass(frozen=True, slots=True)
class Visit:
    """bytes_moved: headers and bodies as the browser counted them. plotted_ms: from the start of navigation."""

    bytes_moved: int
    plotted_ms: float


def _serve_ours(folder: str, pipe: Connection) -> None:
    from dashboard.serve import serve

    serve(Path(folder), host="127.0.0.1", port=0, announce=lambda words: pipe.send(words.split()[7]))


def _serve_stock(recording: str, pipe: Connection) -> None:
    from dash import Dash, dcc, html
    from plotly.graph_objects import Figure, Scatter
    from waitress.server import create_server

    times, values_c = load(Path(recording)).temperature_c("paste")
    moments = (times[: int(HOURS * 3600)] * 1000).astype("datetime64[ms]")
    app = Dash("stock")
    app.layout = html.Div([html.H1("Paste"), dcc.Graph(figure=Figure(Scatter(x=moments, y=values_c[: len(moments)])))])
    server = create_server(app.server, host="127.0.0.1", port=0)
    pipe.send(f"http://127.0.0.1:{server.effective_port}/")
    server.run()


@contextmanager
def _running(target: Callable[[str, Connection], None], argument: str) -> Iterator[tuple[str, int]]:
    """A serving process: its address and its process id."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=target, args=(argument, theirs), daemon=True)
    process.start()
    try:
        if not ours.poll(60):
            raise SystemExit("The server did not start.")
        yield ours.recv(), process.pid or 0
    finally:
        process.terminate()
        process.join(10)


def _visit(context: BrowserContext, url: str, settled: str) -> Visit:
    page = context.new_page()
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOW_DOWN})
    moved = []

    def finished(event: dict[str, Any]) -> None:
        moved.append(event["encodedDataLength"])

    def redirected(event: dict[str, Any]) -> None:
        if "redirectResponse" in event:
            moved.append(event["redirectResponse"]["encodedDataLength"])

    session.on("Network.loadingFinished", finished)
    session.on("Network.requestWillBeSent", redirected)
    page.add_init_script(_WATCH)
    page.goto(url)
    plotted_ms = page.evaluate(_PLOTTED)
    # What a page still fetches after it has plotted is part of its weight.
    page.locator(settled).first.wait_for(state="attached")
    page.wait_for_load_state("networkidle")
    page.close()
    return Visit(int(sum(moved)), plotted_ms)


def _both_visits(browser: Browser, url: str, settled: str) -> tuple[Visit, Visit]:
    context = browser.new_context(viewport={"width": 390, "height": 844}, device_scale_factor=3, has_touch=True)
    first = _visit(context, url, settled)
    second = _visit(context, url.split("?")[0], settled)
    context.close()
    return first, second


def _cpu_ns(pid: int) -> int:
    tasks = Path(f"/proc/{pid}/task").glob("*/schedstat")
    return sum(int(task.read_text().split()[0]) for task in tasks)


class _Phone:
    """One phone's bare HTTP connection, so that every byte of an answer is counted."""

    def __init__(self, url: str) -> None:
        self.body_bytes = 0
        self._host = url.partition("/?key=")[0].removeprefix("http://")
        opener = urllib.request.build_opener(_NoRedirect)
        try:
            opener.open(url)
        except urllib.error.HTTPError as error:
            self._cookie = error.headers["Set-Cookie"].split(";")[0]
        host, port = self._host.split(":")
        self._socket = socket.create_connection((host, int(port)))
        self._file = self._socket.makefile("rb")

    def ask(self, path: str) -> tuple[int, dict[str, Any]]:
        """Bytes of the whole answer, and the answer."""
        count, body = self.fetch(path)
        return count, json.loads(body)

    def fetch(self, path: str) -> tuple[int, bytes]:
        """Bytes of the whole answer, and what it says. ``body_bytes`` is then the count without the headers."""
        self._socket.sendall(
            f"GET {path} HTTP/1.1\r\nHost: {self._host}\r\nCookie: {self._cookie}\r\nAccept-Encoding: gzip\r\n\r\n".encode()
        )
        count, length, squeezed = 2, 0, False
        while (line := self._file.readline()) != b"\r\n":
            count += len(line)
            name, _, value = line.decode().lower().partition(":")
            length = int(value) if name == "content-length" else length
            squeezed = squeezed or (name == "content-encoding" and "gzip" in value)
        body = self._file.read(length)
        self.body_bytes = length
        return count + length, gzip.decompress(body) if squeezed else body


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_about: Any) -> None:
        return None


def _live_updates(url: str, pid: int, maker: Maker, updates: int) -> tuple[list[int], float, float]:
    """Bytes of each update's body, the mean bytes of its headers, and server CPU milliseconds an update."""
    clock = SystemClock()
    phone = _Phone(url)
    cook_clock = SystemClock(maker.anchor)
    every_s = ASK_EVERY_COOK_S / maker.anchor.rate
    maker.went_on(cook_clock.now() - maker.started)
    mark = phone.ask(f"/live?cook={maker.path.stem}")[1]["cursor"]
    sizes: list[int] = []
    headers: list[int] = []
    began = clock.now()
    before = _cpu_ns(pid)
    for turn in tqdm(range(updates), "live updates", leave=False):
        clock.wait_until(began + (turn + 1) * every_s)
        maker.went_on(cook_clock.now() - maker.started)
        size, answer = phone.ask(f"/live?cook={maker.path.stem}&since={mark}")
        mark = answer["cursor"]
        sizes.append(phone.body_bytes)
        headers.append(size - phone.body_bytes)
    return sizes, statistics.mean(headers), (_cpu_ns(pid) - before) / 1e6 / updates


def _bare_answers(url: str, pid: int, asks: int, rate: float) -> float:
    """Server CPU milliseconds of an answer that says next to nothing, as a yardstick, at the pace of the live updates."""
    clock = SystemClock()
    phone = _Phone(url)
    began, before = clock.now(), _cpu_ns(pid)
    for turn in tqdm(range(asks), "bare answers", leave=False):
        clock.wait_until(began + (turn + 1) * ASK_EVERY_COOK_S / rate)
        phone.fetch("/healthz")
    return (_cpu_ns(pid) - before) / 1e6 / asks


def _report(name: str, value: float, shown: str) -> bool:
    target = TARGETS[name]
    print(f"{name:42s} {shown:>28s}   target {target:g}   {'met' if value <= target else 'MISSED'}")
    return value <= target


def _live(folder: str, updates: int) -> list[bool]:
    """The live updates of a fast cook and of one at the pace of life, each served by a process of its own."""
    found: dict[float, tuple[list[int], float, float, float]] = {}
    for rate in (COOK_RATE, PACE_OF_LIFE):
        maker = Maker(Path(folder), SystemClock(), hours=HOURS, rate=rate)
        with _running(_serve_ours, folder) as (url, pid):
            sizes, headers, cpu_ms = _live_updates(url, pid, maker, updates)
            found[rate] = sizes, headers, cpu_ms, _bare_answers(url, pid, updates // 6, rate)
        maker.finish()
    sizes, headers, cpu_ms, bare_ms = found[COOK_RATE]
    typical, ninth = statistics.median(sizes), statistics.quantiles(sizes, n=20)[-1]
    mean = statistics.mean(sizes)
    _, _, life_ms, life_bare_ms = found[PACE_OF_LIFE]
    print(f"headers of a live update: mean {headers:.0f} bytes")
    return [
        _report(
            "live update, bytes without headers",
            mean,
            f"mean {mean:.0f} mid {typical:.0f} 95% {ninth:.0f} max {max(sizes)}",
        ),
        _report("live update, ms of server CPU", cpu_ms, f"{cpu_ms:.2f} (of /healthz: {bare_ms:.2f})"),
        _report(
            "live update at the pace of life, ms of CPU", life_ms, f"{life_ms:.2f} (of /healthz: {life_bare_ms:.2f})"
        ),
    ]


def _visits(folder: str, rounds: int) -> list[bool]:
    """What both pages move and how soon they plot."""
    visits: dict[str, list[tuple[Visit, Visit]]] = {"stock": [], "ours": []}
    maker = Maker(Path(folder), SystemClock(), hours=HOURS, rate=COOK_RATE)
    with (
        _running(_serve_stock, str(maker.path)) as (stock, _),
        _running(_serve_ours, folder) as (ours, _),
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_ARGS)
        for _ in tqdm(range(rounds), "visits", leave=False):
            visits["stock"].append(_both_visits(browser, stock, "#react-entry-point .js-plotly-plot"))
            visits["ours"].append(_both_visits(browser, ours, "html[data-by=dash]"))
        browser.close()
    maker.finish()
    middle: dict[str, list[float]] = {}
    for name, pairs in visits.items():
        middle[name] = [statistics.median(pair[turn].bytes_moved / 1000 for pair in pairs) for turn in (0, 1)] + [
            statistics.median(pair[turn].plotted_ms for pair in pairs) for turn in (0, 1)
        ]
        first_kb, second_kb, first_ms, second_ms = middle[name]
        print(f"{name:6s} first {first_kb:7.0f} kB, plot after {first_ms:5.0f} ms; ", end="")
        print(f"second {second_kb:6.1f} kB, plot after {second_ms:5.0f} ms")
    stock_middle, our_middle = middle["stock"], middle["ours"]
    share = our_middle[2] / stock_middle[2]
    return [
        _report("first visit, kB", our_middle[0], f"{our_middle[0]:.0f}"),
        _report("time to plot, share of the stock page's", share, f"{share:.3f}"),
        _report("second visit, kB", our_middle[1], f"{our_middle[1]:.1f}"),
    ]


def main() -> int:
    """Measures, prints, and says by its status whether all targets are met."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--quick", action="store_true", help="three rounds and 60 updates")
    parser.add_argument("--live", action="store_true", help="the live updates alone")
    args = parser.parse_args()
    rounds, updates = (3, 60) if args.quick else (ROUNDS, UPDATES)
    with tempfile.TemporaryDirectory() as folder:
        met = [] if args.live else _visits(folder, rounds)
        met += _live(folder, updates)
    return 0 if all(met) else 1


if __name__ == "__main__":
    raise SystemExit(main())
