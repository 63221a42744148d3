"""How many functions and modules of ours three everyday flows pass through.

    python -m tests.bench.flow_hops

Counted with ``sys.setprofile`` in this process, for a cook of three hours: calls of functions in ``monitor/`` and
``dashboard/`` (a generator that is resumed counts as called), the modules that they are in, the changes of module, that
is, calls in another module than the call before, and those of them that lead into another package. The figures are
means over several turns of the flow; the largest is in brackets, because every five seconds of cook time alarms are
judged and every minute the estimate is made anew.
"""

import json
import statistics
import sys
import tempfile
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from types import FrameType
from typing import Any, TypeAlias

from werkzeug.test import Client, EnvironBuilder

from dashboard.app import make_app
from monitor.logger.lock import LoggerLock
from monitor.notifications import Dispatcher, Notifier
from monitor.runtime import Level
from monitor.runtime.clock import JumpClock
from monitor.runtime.signals import Stop
from monitor.session import CookLibrary
from tests.dashboard.seeded import Maker

TREE = Path(__file__).resolve().parents[2]
OURS = (f"{TREE / 'monitor'}/", f"{TREE / 'dashboard'}/")
KEY = "a-key-for-the-benchmark"
CURSOR = "cursor"
POLL_EVERY_S = 1.0
LOOK_EVERY_S = 3.0
POLLS, TAPS, LOOKS = 61, 11, 41
Figures: TypeAlias = tuple[int, int, int, int]


@dataclass
class Trace:
    """The files of the functions of ours that were called, in the order of the calls."""

    files: list[str] = field(default_factory=list)

    def _note(self, frame: FrameType, event: str, _argument: object) -> None:
        if event == "call" and frame.f_code.co_filename.startswith(OURS):
            self.files.append(frame.f_code.co_filename)

    def __enter__(self) -> "Trace":
        sys.setprofile(self._note)
        return self

    def __exit__(self, *_about: object) -> None:
        sys.setprofile(None)

    def figures(self) -> Figures:
        """Calls, modules, changes of module, changes of package."""
        packages = [package_of(file) for file in self.files]
        return len(self.files), len(set(self.files)), _changes(self.files), _changes(packages)


def package_of(file: str) -> str:
    """The package that a file of ours belongs to: the dashboard as a whole, or one of the monitor's.

    >>> package_of(f"{TREE}/monitor/notifications/channels/worker.py"), package_of(f"{TREE}/dashboard/pages/now.py")
    ('monitor/notifications', 'dashboard')
    """
    first, second, *_ = Path(file).relative_to(TREE).parts
    return first if first == "dashboard" else f"{first}/{second}"


def _changes(of: list[str]) -> int:
    return sum(before != after for before, after in pairwise(of))


class Kitchen:
    """A running cook with a clock that jumps, the dashboard with one paired phone, and the process of the notices."""

    def __init__(self, folder: Path) -> None:
        self._clock = JumpClock()
        self._maker = Maker(folder, self._clock)
        self._app: Any = make_app(self._library(folder), KEY)
        paired = Client(self._app).get(f"/?key={KEY}")
        self._cookie = paired.headers["Set-Cookie"].partition(";")[0]
        self._cursor = ""
        dispatcher = Dispatcher(folder, self._clock, _say)
        self._notifier = Notifier(self._library(folder), "cooker", self._clock, _ignore, dispatcher, None, _say)

    def _library(self, folder: Path) -> CookLibrary:
        return CookLibrary(folder, lambda _anchor: self._clock, keeps_open=True)

    def goes_on(self, seconds: float) -> None:
        """Lets time pass and commits the readings of that time."""
        self._clock.moment += seconds
        self._maker.went_on(self._clock.moment - self._maker.started)

    def poll(self) -> None:
        """The phone asks for what it lacks, and is answered."""
        self._cursor = self._ask("GET", "/live", f"cook={self._maker.path.stem}&since={self._cursor}")[CURSOR]

    def tap_stirred(self) -> None:
        """The phone logs a stir, and asks for what has changed."""
        entry: dict[str, object] = {
            "cook": self._maker.path.stem,
            "kind": "stirred",
            "id": str(uuid.uuid4()),
            "age_s": 1.0,
        }
        self._ask("POST", "/log", "", entry)
        self.poll()

    def look(self) -> None:
        """One look of the process that tells people what is due."""
        self._notifier.update()

    def _ask(self, method: str, path: str, query: str, body: dict[str, object] | None = None) -> dict[str, Any]:
        headers = [("Cookie", self._cookie), ("Host", "localhost"), ("Sec-Fetch-Site", "same-origin")]
        environ = EnvironBuilder(path, query_string=query, method=method, json=body, headers=headers).get_environ()
        statuses: list[str] = []
        text = b"".join(self._app.wsgi_app(environ, lambda status, *_about: statuses.append(status)))
        if statuses != ["200 OK"]:
            raise SystemExit(f"{method} {path} was answered with {statuses}: {text[:200]!r}")
        answer: dict[str, Any] = json.loads(text)
        return answer


def _say(_words: str, _level: Level = Level.NOTE, /) -> None:
    """Reports nothing."""


def _ignore(_line: str) -> None:
    """Tells nobody."""


def measure(turns: int, before: Callable[[], object], flow: Callable[[], object]) -> list[Figures]:
    """The figures of each turn but the first, in which caches fill. before: what happens ahead of each turn."""
    found: list[Figures] = []
    for _ in range(turns):
        before()
        with Trace() as trace:
            flow()
        found.append(trace.figures())
    return found[1:]


def report(name: str, found: list[Figures]) -> None:
    """Prints the means of one flow."""
    columns = list(zip(*found, strict=True))
    calls, modules, changes, crossings = (f"{statistics.mean(column):.0f} ({max(column)})" for column in columns)
    print(f"{name:<42s} calls {calls:>11s}   modules {modules:>7s}", end="   ")
    print(f"changes of module {changes:>9s}, of package {crossings:>9s}")


def main() -> None:
    """Counts and prints the three flows."""
    with tempfile.TemporaryDirectory(prefix="kettleside-") as folder:
        kitchen = Kitchen(Path(folder))
        with LoggerLock(Path(folder), "cooker", Stop()):
            polls = measure(POLLS, lambda: kitchen.goes_on(POLL_EVERY_S), kitchen.poll)
            taps = measure(TAPS, lambda: kitchen.goes_on(300.0), kitchen.tap_stirred)
            looks = measure(LOOKS, lambda: kitchen.goes_on(LOOK_EVERY_S), kitchen.look)
    report("a live update", polls)
    report("a stirred tap and the first look after it", taps)
    report("a look of the notices", looks)


if __name__ == "__main__":
    main()
