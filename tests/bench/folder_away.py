"""The folder of recordings taken away for 0.5 to 30 s, again and again, under a logger and notices that run.

    python -m tests.bench.folder_away [--rounds 100] [--lanes 3] [--seed 1]

In each lane a real ``kettleside log`` hears 50 numbered packs a second on a pseudo-terminal and a real ``kettleside
notices`` calls for a stir that nobody logs, both at 100 times life. A round renames the folder away, in every other one
with an empty folder in its place, and back; in one of five the logger is killed meanwhile and started again, as its
supervisor would. Prints the removals, the cooks split, the packs lost while the logger lived, those that a killed
logger had in memory or could not hear, the seconds until packs were stored again, how often it was called for the stir
and the longest silence, and ends with 1 where a cook was split, a pack lost or the calling ended.
"""

import argparse
import random
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
from contextlib import closing, suppress
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

from monitor.model import make_event
from monitor.runtime import SystemClock
from monitor.storage import log_event, recordings, unfinished
from tests.logger.running import CLOCK, KETTLESIDE, Logger, Sender
from tests.sources.polling import Terminal

RATE = 100.0
PATIENCE_S = 90.0
# Once a minute is the soonest that a person can ask for, and it is looked every three seconds.
CALLED_WITHIN_S = 70.0
SETTINGS = 'again_minutes = [1]\nleave_out = ["paste cold", "no data", "monitor quiet"]\n'


@dataclass
class Result:
    """What came of the rounds of all lanes. Times in seconds."""

    removals: int = 0
    kills: int = 0
    split: int = 0
    lost: int = 0
    lost_to_kills: int = 0
    stored_s: list[float] = field(default_factory=list)
    away_s: float = 0.0
    calls: int = 0
    called_away: int = 0
    silent_s: list[float] = field(default_factory=list)
    twice: int = 0
    made: int = 0


class Lane:
    """One cooker with its logger, its notices and its folder."""

    def __init__(self, space: Path, result: Result, chance: random.Random) -> None:
        self.folder, self.elsewhere = space / "cooks", space / "elsewhere"
        self.result, self.chance = result, chance
        self.clock = SystemClock(rate=RATE)
        self.terminal = Terminal()
        self.logger = self._logger()
        self.logger.wait_for(b"Records into")
        (path,) = recordings(self.folder)
        self.name = path.name
        self._settings()
        now = self.clock.now()
        log_event(path, make_event("lid-on-0", "lid on", now - 2400.0, now))
        self.calls: list[float] = []
        command = [*KETTLESIDE, "notices", "--recordings", str(self.folder)]
        self.notices = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        self._ear = threading.Thread(target=self._listen)
        self._ear.start()
        self.sender = Sender(self.terminal)
        # Between these packs no logger listened, or one was killed with them in its memory.
        self.deaf: list[tuple[int, int]] = []

    def _settings(self) -> None:
        place = self.folder / ".kettleside"
        place.mkdir(mode=0o700, exist_ok=True)
        file = place / "notices.toml"
        file.touch(0o600)
        file.write_text(SETTINGS)

    def _logger(self) -> Logger:
        anchor = self.clock.anchor().as_text()
        return Logger(self.folder, f"serial://{self.terminal.path}", "--virtual-clock", anchor)

    def _listen(self) -> None:
        assert self.notices.stdout is not None
        for line in self.notices.stdout:
            if ": stir " in line:
                self.calls.append(CLOCK.real_s())

    def latest(self) -> int:
        """The latest pack that is committed."""
        path = self.folder / self.name
        with suppress(sqlite3.Error), closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
            row = connection.execute("SELECT seq FROM pack ORDER BY id DESC LIMIT 1").fetchone()
            return row[0] if row else -1
        return -1

    def until_stored(self, after: int) -> float:
        """Waits for a pack beyond this one; how long it took."""
        began_s, patience = CLOCK.real_s(), threading.Event()
        while self.latest() < after:
            assert CLOCK.real_s() - began_s < PATIENCE_S, f"nothing was stored after {after}: {self.logger.said!r}"
            patience.wait(0.05)
        return CLOCK.real_s() - began_s

    def until_called(self) -> None:
        """Waits for the first call."""
        began_s, patience = CLOCK.real_s(), threading.Event()
        while not self.calls:
            assert CLOCK.real_s() - began_s < PATIENCE_S, "it was never called for the stir"
            patience.wait(0.05)

    def round(self, away_s: float, *, stand_in: bool, kill: bool) -> None:
        """One removal."""
        result, before = self.result, len(self.sender.sent_s)
        self.folder.rename(self.elsewhere)
        gone_s = CLOCK.real_s()
        if stand_in:
            self.folder.mkdir()
        threading.Event().wait(away_s / 2)
        if kill:
            self.logger.kill()
            self.logger = self._logger()
            self.logger.wait_for(b"it goes on when its disk or share is back")
            self.deaf.append((before - 100, len(self.sender.sent_s) + 50))
            result.kills += 1
        threading.Event().wait(max(0.0, gone_s + away_s - CLOCK.real_s()))
        result.called_away += sum(at > gone_s for at in self.calls)
        if self.folder.exists():
            result.made += not stand_in
            result.split += len(recordings(self.folder))
            for left in sorted(self.folder.rglob("*"), reverse=True):
                left.rmdir() if left.is_dir() else left.unlink()
            self.folder.rmdir()
        self.elsewhere.rename(self.folder)
        result.removals += 1
        result.stored_s.append(self.until_stored(len(self.sender.sent_s)))
        result.away_s += CLOCK.real_s() - gone_s
        print(
            f"removal {result.removals}: away {away_s:.1f} s, stored again in {result.stored_s[-1]:.1f} s",
            file=sys.stderr,
        )

    def end(self) -> None:
        """Counts what the whole cook lacks."""
        sent = len(self.sender.sent_s)
        self.sender.close()
        moments = [*self.calls, CLOCK.real_s()]
        self.result.calls += len(self.calls)
        self.result.silent_s += [later - earlier for earlier, later in pairwise(moments)]
        threading.Event().wait(3.0)
        self.logger.stop()
        self.notices.terminate()
        self.notices.wait(PATIENCE_S)
        self._ear.join(PATIENCE_S)
        assert self.notices.stdout is not None
        self.notices.stdout.close()
        self.terminal.close()
        self.result.split += len(recordings(self.folder)) - 1 + len(unfinished(self.folder)["cooker"]) - 1
        with closing(sqlite3.connect(self.folder / self.name)) as connection:
            stored = [row[0] for row in connection.execute("SELECT seq FROM pack")]
        self.result.twice += len(stored) - len(set(stored))
        missing = set(range(sent)) - set(stored)
        to_kills = {n for n in missing if any(first <= n <= last for first, last in self.deaf)}
        self.result.lost_to_kills += len(to_kills)
        self.result.lost += len(missing - to_kills)


def run(space: Path, rounds: int, seed: int, result: Result) -> None:
    """The rounds of one lane."""
    chance = random.Random(seed)
    lane = Lane(space, result, chance)
    try:
        play(lane, rounds, chance)
    finally:
        lane.end()


def play(lane: Lane, rounds: int, chance: random.Random) -> None:
    """One removal after the other."""
    lane.until_stored(10)
    lane.until_called()
    for number in range(rounds):
        longest = chance.choices((3.0, 10.0, 30.0), (70, 22, 8))[0]
        kill = number % 5 == 4
        away_s = 30.0 if longest == 30.0 else chance.uniform(2.0 if kill else 0.5, longest)
        lane.round(away_s, stand_in=number % 2 == 0, kill=kill)


def main() -> int:
    """Takes away, brings back, prints."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=100)
    parser.add_argument("--lanes", type=int, default=3)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    result, troubles = Result(), []
    with tempfile.TemporaryDirectory() as space:

        def one(number: int) -> None:
            place = Path(space) / str(number)
            place.mkdir()
            try:
                run(place, args.rounds // args.lanes + (number < args.rounds % args.lanes), args.seed + number, result)
            except AssertionError as error:
                troubles.append(str(error))

        lanes = [threading.Thread(target=one, args=(number,)) for number in range(args.lanes)]
        for lane in lanes:
            lane.start()
        for lane in lanes:
            lane.join()
    for trouble in troubles:
        print(f"TROUBLE {trouble}")
    print(f"removals {result.removals}, with the logger killed meanwhile {result.kills}; folders made {result.made}")
    print(f"cooks split {result.split}")
    print(f"packs lost {result.lost}, twice {result.twice}; lost with a killed logger {result.lost_to_kills}")
    if result.stored_s:
        print(f"seconds until stored again: {statistics.median(result.stored_s):.2f}, most {max(result.stored_s):.2f}")
    longest_s = max(result.silent_s, default=0.0)
    print(
        f"calls for the stir {result.calls}, one a minute wanted; {result.called_away} of them while the folder was away; "
        f"never longer silent than {longest_s:.1f} s"
    )
    good = not (troubles or result.split or result.lost or result.twice or result.made)
    return 0 if good and longest_s <= CALLED_WITHIN_S else 1


if __name__ == "__main__":
    sys.exit(main())
