"""What the page costs a slow phone's processor while nothing happens.

    python -m tests.bench.idle_page [--seconds 60]

Real Chromium at 390x844, slowed four times by its own debugging protocol, on a cook three hours in. While it is
watched a reading a second comes in and nothing else happens: the page asks, counts down and draws. Prints the share of
the time in which the page's thread was busy, by the browser's own TaskDuration, for the page of a cook and for the list
of several, in processor time of that thread so that other programs do not count; ends with 1 when either is above 5 %.
"""

import argparse
import sys
import tempfile
import threading
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, sync_playwright

from monitor.runtime import SystemClock
from tests.bench.page_diet import CHROMIUM, CHROMIUM_ARGS, SLOW_DOWN, _running, _serve_ours
from tests.dashboard.seeded import Maker

MOST_PERCENT = 5.0
SETTLED_S = 10.0
KINDS = ("ScriptDuration", "LayoutDuration", "RecalcStyleDuration")


def _metrics(session: Any) -> dict[str, float]:
    return {one["name"]: one["value"] for one in session.send("Performance.getMetrics")["metrics"]}


def watched(browser: Browser, url: str, path: str, makers: list[Maker], seconds: float) -> dict[str, float]:
    """Per cent of the time that the page's thread is busy, all and by kind."""
    clock, patience = SystemClock(), threading.Event()
    key = url.partition("?")[2]
    context = browser.new_context(viewport={"width": 390, "height": 844}, device_scale_factor=3, has_touch=True)
    page = context.new_page()
    session = context.new_cdp_session(page)
    session.send("Performance.enable", {"timeDomain": "threadTicks"})
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOW_DOWN})
    page.goto(f"{url.partition('/?')[0]}{path}{'&' if '?' in path else '?'}{key}")
    page.locator("html[data-by=dash]").wait_for(state="attached")

    def goes_on(until_s: float) -> None:
        while clock.real_s() < until_s:
            for maker in makers:
                maker.went_on(clock.now() - maker.started)
            # So that the browser's own events are taken in.
            page.evaluate("1")
            patience.wait(1.0)

    goes_on(clock.real_s() + SETTLED_S)
    before, began_s = _metrics(session), clock.real_s()
    goes_on(began_s + seconds)
    after, passed_s = _metrics(session), clock.real_s() - began_s
    context.close()
    return {kind: 100 * (after[kind] - before[kind]) / passed_s for kind in ("TaskDuration", *KINDS)}


def main() -> int:
    """Watches both pages."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    seconds = parser.parse_args().seconds
    clock = SystemClock()
    shares = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_ARGS)
        for count, name in ((1, "page of a cook"), (3, "list of three cooks")):
            with tempfile.TemporaryDirectory() as folder:
                makers = [Maker(Path(folder), clock, hours=3.0, rig=f"pot {number}") for number in range(count)]
                with _running(_serve_ours, folder) as (url, _):
                    busy = watched(browser, url, "/", makers, seconds)
                for maker in makers:
                    maker.recorder.close()
            kinds = ", ".join(f"{kind.removesuffix('Duration').lower()} {busy[kind]:.2f}" for kind in KINDS)
            print(f"{name:20s} busy {busy['TaskDuration']:.2f} % of {seconds:g} s, {SLOW_DOWN} times slowed ({kinds})")
            shares.append(busy["TaskDuration"])
        browser.close()
    return 0 if max(shares) <= MOST_PERCENT else 1


if __name__ == "__main__":
    sys.exit(main())
