"""Every page as Lighthouse sees it on a slow phone and on a desktop, beside an empty Dash page of the same run.

Run as ``python -m tests.bench.lighthouse [--page now --runs 1 --quick]``; the exit status is 1 when a target is missed.
Lighthouse (npm) is installed once into the folder that --node or KETTLESIDE_LIGHTHOUSE names; it drives Debian's Chromium.
The phone has a processor slowed four times and a line of 1.6 Mbit/s with 150 ms; by default Lighthouse computes both from
an unslowed load ("simulate"), with --throttling devtools it applies them. Close other work first: it shows in the scores
and in what is blocked; "by CPU" is what is blocked by the processor time of the page's own thread.
"""

import argparse
import json
import os
import statistics
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright
from tqdm import tqdm

from monitor.runtime import SystemClock
from tests.bench._lighthouse_servers import Served, copy_stored, dashboard, empty_page, running_cook

# The last that runs on the Node of Debian 12.
LIGHTHOUSE = "lighthouse@12.8.2"
FOLDER = "KETTLESIDE_LIGHTHOUSE"
CHROMIUM = "/usr/bin/chromium"
CHROMIUM_ARGS = ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]
EMPTY = "empty"
# {cook}: the running one. {past}, {other}: two of the stored ones.
PAGES = {
    "now": "/",
    "probes": "/probes/{cook}",
    "cooks": "/cooks",
    "past": "/cooks/{past}",
    "record": "/record/{past}",
    "compare": "/compare?cook={past}&cook={other}",
    "kitchen": "/kitchen",
    "bench": "/bench",
    "charge": "/bench/charge",
    "dilute": "/bench/dilute",
    "neutralise": "/bench/neutralise",
    "set-up": "/set-up",
    "push": "/set-up/push",
    "tls": "/set-up/tls",
    "phones": "/phones",
}
LEAST_SCORE, POINTS_BELOW_EMPTY = 80.0, 3.0
MOST_SHIFT, MOST_BLOCKED_MS = 0.02, 500.0
MOST_KB = {"cold": 700.0, "warm": 20.0}
# A task that takes longer holds up a tap (W3C draft, Long Tasks API).
LONG_TASK_MS = 50.0
FIGURES = ("score", "shift", "blocked_ms", "busy_ms", "kb", "first_paint_ms", "largest_paint_ms")


@dataclass(frozen=True, slots=True)
class Visit:
    """score: 0 to 100. shift: cumulative layout shift. blocked_ms: total blocking time. kb: moved over the network.

    busy_ms: the same as blocked_ms, by the thread's own processor time, which other work on the machine does not raise.
    late_plotly: whether plotly, where it was fetched, was asked for after the first paint.
    """

    score: float
    shift: float
    blocked_ms: float
    busy_ms: float
    kb: float
    first_paint_ms: float
    largest_paint_ms: float
    late_plotly: bool


@dataclass(frozen=True, slots=True)
class Row:
    """The middle of a page's visits. device: mobile or desktop. cache: cold or warm."""

    page: str
    device: str
    cache: str
    visit: Visit

    def missed(self, empty: Visit) -> list[str]:
        """Which targets it missed. empty: the empty page's visit on the same device with the same cache."""
        visit = self.visit
        least = empty.score - POINTS_BELOW_EMPTY
        if self.device == "mobile":
            least = max(least, LEAST_SCORE)
        misses = {
            f"score {least:.0f}": visit.score < least,
            f"shift {MOST_SHIFT}": visit.shift > MOST_SHIFT,
            f"blocked {MOST_BLOCKED_MS:.0f} ms": visit.blocked_ms > MOST_BLOCKED_MS,
            f"{MOST_KB[self.cache]:.0f} kB": visit.kb > MOST_KB[self.cache],
            "plotly after the first paint": not visit.late_plotly,
        }
        return [name for name, is_missed in misses.items() if is_missed]


def visit_of(report: dict[str, Any], trace: Sequence[dict[str, Any]]) -> Visit:
    """What a report of Lighthouse and the events of its trace, both read from JSON, say."""
    if "runtimeError" in report:
        raise SystemExit(f"Lighthouse: {report['runtimeError']['message']}")
    audits = report["audits"]
    requests = audits["network-requests"]["details"]["items"]
    painted_ms = audits["metrics"]["details"]["items"][0]["observedFirstContentfulPaint"]
    # Times of requests and of paints both count from the start of the navigation.
    began_ms = min(one["networkRequestTime"] for one in requests)
    plotly_ms = [one["networkRequestTime"] - began_ms for one in requests if "plotly" in one["url"]]
    return Visit(
        score=report["categories"]["performance"]["score"] * 100,
        shift=audits["cumulative-layout-shift"]["numericValue"],
        blocked_ms=audits["total-blocking-time"]["numericValue"],
        busy_ms=_busy_ms(trace, _slow_down(report["configSettings"])),
        kb=sum(one["transferSize"] for one in requests) / 1000,
        first_paint_ms=audits["first-contentful-paint"]["numericValue"],
        largest_paint_ms=audits["largest-contentful-paint"]["numericValue"],
        late_plotly=all(asked_ms >= painted_ms for asked_ms in plotly_ms),
    )


def _slow_down(settings: dict[str, Any]) -> float:
    """By what a measured time has yet to be multiplied; 1 where the load itself was slowed."""
    simulated = settings["throttlingMethod"] == "simulate"
    return float(settings["throttling"]["cpuSlowdownMultiplier"]) if simulated else 1.0


def _busy_ms(trace: Sequence[dict[str, Any]], slow_down: float) -> float:
    """What the page's thread worked on tasks after the first paint, beyond the time that is not felt of each."""
    painted = [event for event in trace if event["name"] == "firstContentfulPaint"][-1]
    own = (painted["pid"], painted["tid"])
    tasks = [event for event in trace if event["name"] == "RunTask" and (event["pid"], event["tid"]) == own]
    times_ms = [slow_down * event.get("tdur", 0) / 1000 for event in tasks if event["ts"] >= painted["ts"]]
    return float(sum(max(0.0, time_ms - LONG_TASK_MS) for time_ms in times_ms))


def middle(visits: Sequence[Visit]) -> Visit:
    """The median of each figure; plotly has to be late in every visit."""
    figures = {name: statistics.median(getattr(visit, name) for visit in visits) for name in FIGURES}
    return Visit(**figures, late_plotly=all(visit.late_plotly for visit in visits))


@contextmanager
def _chromium(profile: Path, served: Served) -> Iterator[int]:
    """A browser with the profile in this folder, paired; gives the port at which it is driven."""
    command = [CHROMIUM, *CHROMIUM_ARGS, "--remote-debugging-port=0", f"--user-data-dir={profile}", "about:blank"]
    port_file, clock = profile / "DevToolsActivePort", SystemClock()
    # Of the browser that had this profile before.
    port_file.unlink(missing_ok=True)
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        deadline = clock.now() + 60
        while not (port_file.exists() and port_file.read_text().count("\n")):
            if process.poll() is not None or clock.now() > deadline:
                raise SystemExit("Chromium did not start.")
            clock.wait_until(clock.now() + 0.1)
        port = int(port_file.read_text().split()[0])
        if served.cookie:
            _pair(port, served)
        yield port
    finally:
        process.terminate()
        process.wait(20)


def _pair(port: int, served: Served) -> None:
    name, _, value = served.cookie.partition("=")
    with sync_playwright() as playwright:
        browser = playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")
        browser.contexts[0].add_cookies([{"name": name, "value": value, "url": served.base}])
        browser.close()


def _installed(folder: Path) -> Path:
    """Lighthouse's command in ``folder``, installed there where it is not."""
    command = folder / "node_modules" / "lighthouse" / "cli" / "index.js"
    if not command.exists():
        subprocess.run(
            ["npm", "install", "--silent", "--no-audit", "--no-fund", "--prefix", folder, LIGHTHOUSE], check=True
        )
    return command


@dataclass(frozen=True, slots=True)
class Measurer:
    """Visits pages with Lighthouse. keep: a folder for its whole reports, or None."""

    command: Path
    throttling: str
    keep: Path | None

    def cold_and_warm(self, name: str, served: Served, path: str, device: str, turn: int) -> tuple[Visit, Visit]:
        """A visit of a browser that was never here, and its next one after it was closed and opened again."""
        with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
            cold = self._visit(f"{name}-{device}-cold-{turn}", served, path, device, Path(profile), [])
            # What the first visit stored is still there.
            kept = ["--disable-storage-reset"]
            warm = self._visit(f"{name}-{device}-warm-{turn}", served, path, device, Path(profile), kept)
        return cold, warm

    def _visit(self, name: str, served: Served, path: str, device: str, profile: Path, more: Sequence[str]) -> Visit:
        with tempfile.TemporaryDirectory() as folder, _chromium(profile, served) as port:
            # Into a file, because Lighthouse ends before a pipe has taken all that it says.
            kept = (self.keep or Path(folder)) / f"{name}.json"
            command = ["node", str(self.command), served.base + path, f"--port={port}", "--quiet"]
            command += ["--output=json", f"--output-path={kept}", "--only-categories=performance", "--save-assets"]
            command += [f"--throttling-method={self.throttling}", *more]
            if device == "desktop":
                command.append("--preset=desktop")
            done = subprocess.run(command, capture_output=True, text=True)
            if not kept.exists():
                raise SystemExit(f"Lighthouse said nothing of {path}: {done.stderr[-500:]}")
            trace = json.loads(kept.with_name(f"{name}-0.trace.json").read_text(encoding="utf-8"))
            return visit_of(json.loads(kept.read_text(encoding="utf-8")), trace["traceEvents"])


def _measure(
    measurer: Measurer, places: dict[str, tuple[Served, str]], devices: Sequence[str], runs: int
) -> Iterator[Row]:
    for device in devices:
        visits: dict[str, list[tuple[Visit, Visit]]] = {name: [] for name in places}
        # Turn by turn, so that other work on the machine falls on all pages alike.
        for turn, name in tqdm([(turn, name) for turn in range(runs) for name in places], device, leave=False):
            served, path = places[name]
            visits[name].append(measurer.cold_and_warm(name, served, path, device, turn))
        for name, pairs in visits.items():
            for cache, found in zip(("cold", "warm"), zip(*pairs, strict=True), strict=True):
                yield Row(name, device, cache, middle(found))


def _print(rows: Sequence[Row]) -> bool:
    """Prints the table; whether every target is met."""
    empty = {(row.device, row.cache): row.visit for row in rows if row.page == EMPTY}
    print("page          device   cache  score  shift  blocked  by CPU      kB  first paint  largest  missed")
    met = True
    for row in rows:
        missed = [] if row.page == EMPTY else row.missed(empty[row.device, row.cache])
        met = met and not missed
        visit = row.visit
        print(
            f"{row.page:13s} {row.device:8s} {row.cache:5s} {visit.score:6.0f} {visit.shift:6.3f} {visit.blocked_ms:5.0f} ms {visit.busy_ms:4.0f} ms "
            f"{visit.kb:7.1f}  {visit.first_paint_ms:8.0f} ms {visit.largest_paint_ms:5.0f} ms  {', '.join(missed)}"
        )
    return met


def main() -> int:
    """Measures, prints, and says by its status whether all targets are met."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--page", action="append", choices=PAGES, help="this page alone; again for more")
    parser.add_argument("--runs", type=int, default=3, help="visits of which the middle counts (3)")
    parser.add_argument("--quick", action="store_true", help="the phone alone, one run")
    parser.add_argument("--throttling", choices=["simulate", "devtools"], default="simulate")
    parser.add_argument("--node", type=Path, help=f"folder of Lighthouse; else {FOLDER} names it")
    parser.add_argument("--keep", type=Path, help="folder for Lighthouse's whole reports")
    args = parser.parse_args()
    node = args.node or Path(os.environ.get(FOLDER, ""))
    if node == Path():
        parser.error(f"name a folder for Lighthouse by --node or {FOLDER}")
    if args.keep is not None:
        args.keep.mkdir(parents=True, exist_ok=True)
    devices = ("mobile",) if args.quick else ("mobile", "desktop")
    measurer = Measurer(_installed(node.resolve()), args.throttling, args.keep)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        past, other, *_ = copy_stored(folder)
        with running_cook(folder) as cook, dashboard(folder) as pages, empty_page() as empty:
            places = {EMPTY: (empty, "/")}
            for page in args.page or PAGES:
                places[page] = pages, PAGES[page].format(cook=cook, past=past, other=other)
            rows = list(_measure(measurer, places, devices, 1 if args.quick else args.runs))
    load = ", ".join(f"{one:.1f}" for one in os.getloadavg())
    print(
        f"{LIGHTHOUSE}, throttling: {args.throttling}, a processor slowed four times on mobile; load of the machine {load}"
    )
    return 0 if _print(rows) else 1


if __name__ == "__main__":
    raise SystemExit(main())
