"""When what is wrong is told, whatever the rig's clock says.

    python -m tests.bench.wrong_clocks

A real ``kettleside log`` for each sort of clock, over a pseudo-terminal of its own, at the pace of life and all at
once: the paste boils up after a minute and a half, a stir falls due at two minutes, the paste probe falls silent at
four. Prints how many seconds after the cook's begin each was first told, as the notices would tell it, and the
difference to the right rig; ends with 1 where one is a minute or more, or never told. Takes six minutes.
"""

import math
import sys
import tempfile
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event as Flag

from tqdm import tqdm

from monitor.estimation.scheduling import Costs
from monitor.model import make_event
from monitor.notifications.pending import pending_notifications
from monitor.protocol import encode_line
from monitor.runtime import Anchor, SystemClock
from monitor.session import Cook
from monitor.storage import RecordingError, log_event
from tests.logger.running import Logger
from tests.sources.polling import Terminal

YEAR_S, DAY_S = 31_536_000.0, 86_400.0
HOT_AT_S, RAMP_S, STIR_AT_S, SILENT_AT_S, LENGTH_S = 90, 30.0, 120.0, 240, 330
TOLD = ("near boil-over", "stir due", "no paste data")
WITHIN_S = 60.0


@dataclass(frozen=True)
class Rig:
    """A sort of clock. own: the rig's own time, of the true time in Unix seconds and the seconds since its begin.

    machine_behind_s: by how much the clock of the logger's machine was behind when the cook began.
    """

    name: str
    own: Callable[[float, int], float | None]
    machine_behind_s: float = 0.0


def off_by(ahead_s: float) -> Callable[[float, int], float | None]:
    """A clock that is always so far ahead."""
    return lambda true, _: true + ahead_s


RIGHT = Rig("right", off_by(0.0))
RIGS = (
    RIGHT,
    Rig("sends no time", lambda _true, _elapsed: None),
    *(
        Rig(f"{words} {way}", off_by(sign * seconds))
        for words, seconds in (("30 s", 30.0), ("15 min", 900.0), ("2 h", 7200.0), ("100 days", 100 * DAY_S))
        for way, sign in (("ahead", 1.0), ("behind", -1.0))
    ),
    Rig("seconds since its start", lambda _true, elapsed: 5000.0 + elapsed),
    Rig("one time 2 h ahead", lambda true, elapsed: true + (7200.0 if elapsed == SILENT_AT_S - 1 else 0.0)),
    Rig("one time in 2100", lambda true, elapsed: 4.11e9 if elapsed == HOT_AT_S - 30 else true),
    Rig("2 h ahead, set right", lambda true, elapsed: true + (7200.0 if elapsed < HOT_AT_S else 0.0)),
    Rig("logger a year behind", off_by(0.0), YEAR_S),
)


def paste_c(elapsed: int) -> float | None:
    """The paste so many seconds after the begin; None where its probe says nothing."""
    if elapsed >= SILENT_AT_S:
        return None
    level = 96.0 + 7.0 * min(max((elapsed - HOT_AT_S) / RAMP_S, 0.0), 1.0)
    return round(level + 0.3 * math.sin(elapsed * 1.7), 2)


def records(rig: Rig, true: float, elapsed: int) -> list[Mapping[str, object]]:
    """What the rig sends so many seconds after the begin. true: Unix seconds."""
    own = rig.own(true, elapsed)
    time: dict[str, object] = {} if own is None else {"t": round(own, 2)}
    paste = paste_c(elapsed)
    probes = [] if paste is None else [{"n": "paste", "u": "Cel", "v": paste, **time}]
    return [*probes, {"n": "wall", "u": "Cel", "v": 99.0 + elapsed % 4 / 4, **time}, _seq(elapsed)]


def _seq(elapsed: int) -> Mapping[str, object]:
    return {"n": "seq", "u": "count", "v": elapsed}


def lid_on(path: Path, begin: float) -> None:
    """Logs a lid that makes the first stir due two minutes after the begin (cook time in Unix seconds)."""
    at = begin + STIR_AT_S - Costs().stir_every_s
    log_event(path, make_event("lid-of-the-bench", "lid on", at, begin))


def standing(cook: Cook) -> set[str]:
    """What the notices would tell of now."""
    return {one.name for one in pending_notifications(cook.outlook(), cook.history().events)}


@dataclass
class Kitchen:
    """One rig, its logger and what is told of it. told: seconds after the begin, by name."""

    rig: Rig
    folder: Path
    clock: SystemClock
    told: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.terminal = Terminal()
        now = self.clock.anchor()
        behind_s = self.rig.machine_behind_s
        anchor = Anchor(now.cook_time - behind_s, now.wall - behind_s, now.boot_id, now.boot_s)
        self.logger = Logger(self.folder, f"serial://{self.terminal.path}", "--virtual-clock", anchor.as_text())
        self.logger.wait_for(b"Records into")
        (path,) = self.folder.glob("*.cook")
        self.cook = Cook(path)
        self.begin = 0.0

    def go_on(self, elapsed: int) -> None:
        """Sends what is due and looks at what is told."""
        if not elapsed:
            # Loggers start one after another, and their cooks together.
            self.begin = self.cook.now()
            lid_on(self.cook.path, self.begin)
        self.terminal.send(encode_line(records(self.rig, self.clock.now(), elapsed)))
        with suppress(RecordingError):
            for name in standing(self.cook) & set(TOLD) - self.told.keys():
                self.told[name] = self.cook.now() - self.begin

    def close(self) -> None:
        """Ends the logger."""
        self.logger.stop()
        self.terminal.close()


def row(name: str, told: Mapping[str, float], right: Mapping[str, float]) -> str:
    """One line of the table."""
    cells = [
        f"{told[what]:8.0f} s {told[what] - right[what]:+5.0f}" if what in told else f"{'never':>16}" for what in TOLD
    ]
    return f"{name:<26}" + "".join(f"{cell:>20}" for cell in cells)


def good(told: Mapping[str, float], right: Mapping[str, float]) -> bool:
    """Whether all was told within a minute of what a right rig gets."""
    return all(what in told and abs(told[what] - right[what]) < WITHIN_S for what in TOLD)


def main() -> int:
    """Runs all of them at once."""
    clock, patience = SystemClock(), Flag()
    with tempfile.TemporaryDirectory() as space:
        kitchens = [Kitchen(rig, Path(space) / str(number), clock) for number, rig in enumerate(RIGS)]
        begin_s = clock.real_s()
        for elapsed in tqdm(range(LENGTH_S), leave=False):
            patience.wait(max(0.0, begin_s + elapsed - clock.real_s()))
            for kitchen in kitchens:
                kitchen.go_on(elapsed)
        for kitchen in kitchens:
            kitchen.close()
    right = kitchens[0].told
    print(f"{'the rig clock':<26}" + "".join(f"{what:>20}" for what in TOLD))
    for kitchen in kitchens:
        print(row(kitchen.rig.name, kitchen.told, right))
    return 0 if all(good(kitchen.told, right) for kitchen in kitchens) else 1


if __name__ == "__main__":
    sys.exit(main())
