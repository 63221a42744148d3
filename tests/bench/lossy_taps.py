"""Notes kept on the page in a real browser, behind a network that loses a third of the answers, counted at the server.

An answer is lost with its connection; now and then one is swallowed, so that the page waits to its time limit.

Run: python -m tests.bench.lossy_taps --taps 1000
"""

import argparse
import socket
import tempfile
from collections import Counter
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from dashboard.app import make_app
from dashboard.server.http_server import Server
from monitor.runtime import SystemClock
from monitor.session import CookLibrary
from monitor.storage import load
from tests.browser.conftest import CHROMIUM, CHROMIUM_ARGS, KEY, taken_over
from tests.browser.proxy import Proxy, network
from tests.dashboard.seeded import Maker
from tests.dashboard.serving import running

# The phone keeps at most 200.
BATCH = 50
# The page's own way from a kept note to the server; only the finger is missing.
TAPS = """([from, until]) => {
    for (let number = from; number < until; number++) {
        document.getElementById("note-text").value = `tap ${number}`;
        document.querySelector("[data-note]").click();
    }
}"""


def tapped(page: Page, between: Proxy, taps: int) -> None:
    """Taps in batches, each once the one before has been acknowledged."""
    for begin in range(0, taps, BATCH):
        between.swallow = 1
        page.evaluate(TAPS, [begin, min(begin + BATCH, taps)])
        while page.evaluate("window.kettlesideEntries.list().length"):
            page.wait_for_timeout(50)


def main() -> None:
    """Reads the arguments, taps, prints the count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--taps", type=int, default=1000)
    parser.add_argument("--share", type=float, default=1 / 3)
    args = parser.parse_args()
    clock = SystemClock()
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        maker = Maker(Path(name), clock, hours=0.3)
        listener = socket.create_server(("127.0.0.1", 0))
        with (
            running(Server(make_app(CookLibrary(Path(name)), KEY), listener, None)) as server,
            network(server.effective_port) as between,
        ):
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_ARGS)
            page = browser.new_page()
            page.goto(f"{between.address}/?key={KEY}")
            taken_over(page)
            between.lose = args.share
            began_s = clock.real_s()
            tapped(page, between, args.taps)
            took_s = clock.real_s() - began_s
            browser.close()
        counted = Counter(str(event.fields["text"]) for event in load(maker.path).events_of("note"))
        maker.recorder.close()
    wanted = {f"tap {number}" for number in range(args.taps)}
    print(
        f"{args.taps} taps, {between.answers} answers, {between.lost} of them lost, in {took_s:.0f} s: "
        f"entries lost {len(wanted - counted.keys())}, doubled {sum(count > 1 for count in counted.values())}"
    )


if __name__ == "__main__":
    main()
