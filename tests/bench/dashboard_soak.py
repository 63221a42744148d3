"""The dashboard's memory over two days: eight cooks of six hours in turn, and five phones that ask all along.

    python -m tests.bench.dashboard_soak [--hours 48] [--rate 180]

The cooks' own clock runs ``rate`` times faster than life; the phones ask ``/live`` over real HTTP at their usual pace,
and look at a page now and then. Prints the resident memory as the day goes on, MB of 1e6 bytes, and ends with 1 when
the last quarter took more than 5 % beyond the second, when it went up by more than half a MB a cook from the second
cook on (a straight line through what stood after each, of six cooks at least, for two that are over stay in memory and
what stands after a single one is a few MB up or down), or when an answer was missing.
"""

import argparse
import gzip
import http.client
import json
import random
import statistics
import sys
import tempfile
import threading
from pathlib import Path
from urllib.parse import urlsplit

from monitor.runtime import SystemClock
from tests.bench.logger_footprint import memory_mb, processor_s
from tests.bench.page_diet import _running, _serve_ours
from tests.dashboard.seeded import Maker

PHONES = 5
COOK_HOURS = 6.0
ASK_EVERY_S = 1.0
MOST_GROWTH = 1.05
MOST_SLOPE_MB, FEWEST_JUDGED = 0.5, 6


class Phone(threading.Thread):
    """A phone on a table: asks what is new each second, and opens a page every so often. asked, missed: counts."""

    def __init__(self, url: str, number: int, stop: threading.Event) -> None:
        super().__init__(daemon=True)
        parts = urlsplit(url)
        self._host, self._query = parts.netloc, parts.query
        self._random = random.Random(number)
        self._stop_asked = stop
        self.cook = ""
        self.asked = self.missed = 0

    def run(self) -> None:
        """Asks until told to stop."""
        connection = http.client.HTTPConnection(self._host, timeout=30)
        connection.request("GET", f"/?{self._query}")
        answer = connection.getresponse()
        answer.read()
        self._cookie = str(answer.getheader("Set-Cookie")).split(";")[0]
        cook, mark = "", ""
        while not self._stop_asked.wait(ASK_EVERY_S * self._random.uniform(0.8, 1.2)):
            if cook != self.cook:
                cook, mark = self.cook, ""
                self._ask(connection, f"/?cook={cook}")
            body = self._ask(connection, f"/live?cook={cook}&since={mark}")
            mark = json.loads(body)["cursor"] if body else mark
            if self._random.random() < 0.02:
                self._ask(connection, self._random.choice(["/", "/cooks", f"/cooks/{cook}", "/bench"]))

    def _ask(self, connection: http.client.HTTPConnection, path: str) -> bytes:
        self.asked += 1
        connection.request("GET", path, headers={"Cookie": self._cookie, "Accept-Encoding": "gzip"})
        answer = connection.getresponse()
        body = answer.read()
        if answer.status != 200:
            self.missed += 1
            return b""
        return gzip.decompress(body) if answer.getheader("Content-Encoding") == "gzip" else body


def main() -> int:
    """Lives the days, watches the memory."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=float, default=48.0, help="of the cooks' own time (48)")
    parser.add_argument("--rate", type=float, default=180.0, help="seconds of the cooks' time in one real second (180)")
    args = parser.parse_args()
    stop, clock = threading.Event(), SystemClock()
    cooks = max(1, round(args.hours / COOK_HOURS))
    seen: list[tuple[float, float]] = []
    after: list[float] = []
    with tempfile.TemporaryDirectory() as folder, _running(_serve_ours, folder) as (url, pid):
        phones = [Phone(url, number, stop) for number in range(PHONES)]
        used_s, began_s = processor_s(pid), clock.real_s()
        for number in range(cooks):
            # Begun just now, so that all of it comes in while the phones look on.
            maker = Maker(Path(folder), clock, hours=0.0, title=f"Batch {number + 1}", rate=args.rate, seed=number)
            cook_clock = SystemClock(maker.anchor)
            due = [(300, "lye in"), (1500, "thick trace"), (1700, "lid on")]
            due += [(at_s, "stirred") for at_s in range(3800, round(COOK_HOURS * 3600), 2100)]
            for phone in phones:
                phone.cook = maker.path.stem
                if not phone.is_alive():
                    phone.start()
            while (elapsed_s := cook_clock.now() - maker.started) < COOK_HOURS * 3600:
                maker.went_on(elapsed_s)
                while due and due[0][0] <= elapsed_s:
                    maker.log(due[0][1], due.pop(0)[0])
                stop.wait(0.5)
                seen.append((number * COOK_HOURS + elapsed_s / 3600, memory_mb(pid)[0]))
            maker.finish()
            after.append(memory_mb(pid)[0])
            print(f"after {(number + 1) * COOK_HOURS:g} h: {after[-1]:.1f} MB", flush=True)
        share_percent = 100 * (processor_s(pid) - used_s) / (clock.real_s() - began_s)
        stop.set()
        for phone in phones:
            phone.join(30)
    whole_h = cooks * COOK_HOURS
    for name, hour in (("start", 0.0), ("quarter", whole_h / 4), ("half", whole_h / 2), ("end", whole_h)):
        print(f"{name:8s} {hour:5.1f} h: {min(seen, key=lambda one: abs(one[0] - hour))[1]:.1f} MB")
    quarters = [
        statistics.median(mb for at_h, mb in seen if whole_h * q / 4 <= at_h < whole_h * (q + 1) / 4) for q in range(4)
    ]
    print(
        f"median of each quarter: {', '.join(f'{mb:.1f}' for mb in quarters)} MB; highest {max(mb for _, mb in seen):.1f} MB"
    )
    asked, missed = sum(phone.asked for phone in phones), sum(phone.missed for phone in phones)
    print(f"{asked} questions of {PHONES} phones, {missed} without answer; processor {share_percent:.1f} % of a core")
    slope_mb = statistics.linear_regression(range(len(after) - 1), after[1:]).slope if len(after) > 2 else 0.0
    print(f"from the second cook on: {slope_mb:+.2f} MB a cook")
    grew = len(after) >= FEWEST_JUDGED and slope_mb > MOST_SLOPE_MB
    return 1 if missed or grew or quarters[3] > MOST_GROWTH * quarters[1] else 0


if __name__ == "__main__":
    sys.exit(main())
