"""A source that plays a script on a clock that jumps, and running the logger on it."""

from collections.abc import Callable, Iterable
from pathlib import Path
from threading import Event

from monitor.logger.loop import run_logger
from monitor.model import Event as CookEvent
from monitor.protocol import BadLine, Pack, parse_pack
from monitor.runtime import Level
from monitor.runtime.clock import JumpClock
from monitor.sources import SourceItem
from monitor.storage import load

START = 1_773_480_000.0
# With a batch sheet a cook begins with the logger, and not only with the first pack.
SHEET = """title = "cooker"
[[oil]]
name = "rapeseed"
grams = 600
[alkali]
kind = "KOH"
assay = 0.90
excess = 0.03
[water]
grams = 540
"""


def pack(paste_c: float, at: float, seq: int | None = None) -> Pack:
    """One pack as it arrives at ``at``."""
    count = "" if seq is None else f',{{"n":"seq","u":"count","v":{seq}}}'
    return parse_pack(f'[{{"n":"paste","u":"Cel","v":{paste_c}}}{count}]', at)


def bad(at: float) -> BadLine:
    """A line that could not be read."""
    return BadLine("xyz", "it is not JSON", at)


class Script:
    """Hands out what is due on the clock, and deeds to be done by then; a poll is a jump of the clock."""

    url = "test:"
    port: str | None = None

    def __init__(self, clock: JumpClock, stop: Event, window: int = 1000) -> None:
        self.clock = clock
        self.window = window
        self.acknowledged: list[Pack] = []
        self.closed = False
        self._stop = stop
        self._due: list[tuple[float, SourceItem | Callable[[], None]]] = []

    def play(self, steps: Iterable[tuple[float, SourceItem | Callable[[], None]]]) -> None:
        """steps: (cook time in Unix seconds, what is heard or done then)."""
        self._due = sorted([*self._due, *steps], key=lambda step: step[0])

    def poll(self, timeout_s: float) -> list[SourceItem]:
        """What is due within the time."""
        end = self.clock.now() + max(timeout_s, 0.001)
        if not self._due:
            self._stop.set()
        elif self._due[0][0] <= end:
            at, what = self._due.pop(0)
            self.clock.wait_until(at)
            if not callable(what):
                return [what]
            what()
            return []
        self.clock.wait_until(end)
        return []

    def stored(self, packs: Iterable[Pack]) -> None:
        """Notes what may be forgotten."""
        self.acknowledged += packs

    def close(self) -> None:
        """Notes it."""
        self.closed = True


class Reports:
    """Keeps what the logger reports."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def __call__(self, text: str, level: Level = Level.NOTE, /) -> None:
        self.lines.append(f"{level.name.lower()}: {text}")


class Run:
    """One run of the logger in a folder."""

    def __init__(self, folder: Path, at: float = START, window: int = 1000) -> None:
        self.folder = folder
        self.clock = JumpClock(at)
        self.stop = Event()
        self.source = Script(self.clock, self.stop, window)
        self.reports = Reports()

    def record(
        self,
        *steps: tuple[float, SourceItem | Callable[[], None]],
        sheet: str | None = SHEET,
        once: bool = False,
        rig: str = "cooker",
    ) -> "Run":
        """Plays the steps and lets the logger run until they are through."""
        self.source.play(steps)
        run_logger(self.source, self.folder, self.clock, rig, sheet, self.reports, self.stop, once=once)
        return self

    @property
    def cooks(self) -> list[Path]:
        """The recordings, the earliest first."""
        return sorted(self.folder.glob("*.cook"))


def events(path: Path) -> list[tuple[str, float]]:
    """The events of a recording: kind and seconds after START."""
    return [(event.kind, event.measured - START) for event in load(path).events]


def count_of(event: CookEvent) -> float:
    """How many losses an event counts."""
    return float(event.fields["count"])


def timed_pack(paste_c: float, at: float, own: float, seq: int | None = None) -> Pack:
    """A pack that arrives at ``at`` and says that it was measured at ``own``."""
    count = "" if seq is None else f',{{"n":"seq","u":"count","v":{seq}}}'
    return parse_pack(f'[{{"n":"paste","u":"Cel","v":{paste_c},"t":{own}}}{count}]', at)
