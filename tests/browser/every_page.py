"""Every page that there is, found by following its links from those that need no name, so that none is forgotten."""

import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from html import unescape
from pathlib import Path
from urllib.parse import urlsplit

from flask import Flask
from werkzeug.routing import Map, Rule

from dashboard.pages import page_modules
from monitor.cli import main
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime import SystemClock
from monitor.session import Cook
from monitor.storage import keep_sheet
from tests.browser.conftest import KEY
from tests.dashboard.seeded import Maker

ROOT = Path(__file__).resolve().parents[2]
PAST = ("invented-power-cut", "invented-loose-probe")
_LINK = re.compile(r'<a\b[^>]*\bhref="([^"#]+)')


def every_page(app: Flask) -> list[str]:
    """The address of every page that can be reached, sorted: each path once, with the first query it is linked with."""
    waiting = [module.PATH for module in page_modules() if "<" not in module.PATH]
    client, found = app.test_client(), dict[str, str]()
    client.get(f"/?key={KEY}")
    while waiting:
        address = waiting.pop(0)
        path = urlsplit(address).path
        # Asked for with a cook the first page is another than without.
        kind = address if path == "/" else path
        if kind in found:
            continue
        answer = client.get(address)
        if answer.mimetype == "text/html" and answer.status_code == 200:
            found[kind] = address
            waiting += [link for each in _LINK.findall(answer.text) if (link := unescape(each)).startswith("/")]
    return sorted(found.values())


def led_to_by_nobody(addresses: list[str]) -> set[str]:
    """The modules of ``dashboard.pages`` of which no address is among these."""
    modules = page_modules()
    rules = Map([Rule(module.PATH, endpoint=module.__name__) for module in modules]).bind("")
    paths = [path for address in addresses if rules.test(path := urlsplit(address).path)]
    return {module.__name__ for module in modules} - {rules.match(path)[0] for path in paths}


@contextmanager
def kitchen(folder: Path) -> Iterator[None]:
    """A cooker with a cook under way and one whose cook is clear, with four probes, past cooks, a sheet and a lot."""
    for path in (ROOT / "recordings").glob("*.cook"):
        if path.stem.endswith(PAST):
            shutil.copy(path, folder)
    running = Maker(folder, SystemClock(), hours=3.0)
    volts = SenmlRecord("ph", "V", 0.11, None, running.started + 10790)
    running.recorder.add_pack(Pack((volts,), running.started + 10790, 20000, None))
    for kind, at_s, fields in (
        ("note", 9100, {"text": "Smelt <b>of</b> wax & was pale"}),
        ("added", 9300, {"what": "glycerol", "grams": 40}),
        ("ph read", 9400, {"ph": 9.7, "sample_percent": 1, "temperature_c": 24}),
        ("water added", 9500, {"grams": 500}),
    ):
        running.log(kind, at_s, fields)
    clear = Maker(folder, SystemClock(), hours=3.2, title="Second batch", rig="second", seed=8)
    clear.log("checked", 11000, {"result": "clear"})
    batch = Cook(running.path).history().batch
    assert batch is not None
    keep_sheet(folder, batch, "brush-soap")
    main(["stock", "add", "oil", "rapeseed", "2000", "--price", "9.50 EUR", "--recordings", str(folder)])
    yield
    running.recorder.close()
    clear.recorder.close()
