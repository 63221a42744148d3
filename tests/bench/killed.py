"""Logger, dashboard and supervisor killed without warning at random moments, and power lost at random instants.

    python -m tests.bench.killed [--kills 100] [--copies 300] [--seed 1]

``kettleside start`` listens on a pseudo-terminal on which 50 numbered packs a second are sent. After the death of the
supervisor this program starts it again, as systemd would. Copies of database and WAL, torn and whole, are opened
between the kills. Prints how often each was killed, what was at stake and how soon it was back, and ends with 1 where a
committed reading is missing, more than a second was at stake, the cook was not back within 3 s, a pack is there
twice, a file is not sound, or a process is left over.
"""

import argparse
import random
import signal
import sqlite3
import statistics
import sys
import tempfile
from contextlib import closing
from pathlib import Path
from threading import Event

from monitor.storage import recordings, summary
from tests.cli.processes import alive, until
from tests.cli.started import Started
from tests.logger.power_loss import copied, seqs_of_sound_copy
from tests.logger.running import CLOCK, Sender, seqs, wait_until_stored
from tests.sources.polling import Terminal

WEIGHTS = {"logger": 60, "supervisor": 25, "dashboard": 15}
MOST_AT_STAKE_S, BACK_WITHIN_S = 1.0, 3.0


class Kills:
    """What came of the kills of one part. Times in seconds."""

    def __init__(self) -> None:
        self.at_stake_s: list[float] = []
        self.back_s: list[float] = []
        self.committed_lost = 0

    def row(self, part: str) -> str:
        """One line of the table."""
        return (
            f"{part:<12}{len(self.back_s):>6}{self.committed_lost:>16}{max(self.at_stake_s):>14.2f}"
            f"{statistics.median(self.back_s):>10.2f}{max(self.back_s):>8.2f}"
        )


def kill(house: Started, part: str, sender: Sender, result: Kills, chance: random.Random) -> None:
    """Kills a part, waits until it is back, and counts."""
    begun = len(sender.sent_s)
    wait_until_stored(house.folder, begun)
    Event().wait(chance.uniform(0.0, 1.5))
    committed, killed_s = set(seqs(house.folder)), CLOCK.real_s()
    sent = len(sender.sent_s)
    house.kill(part)
    stored = set(seqs(house.folder))
    result.committed_lost += len(committed - stored)
    if part == "dashboard":
        until(house.answers)
        result.back_s.append(CLOCK.real_s() - killed_s)
        # The logger has not noticed.
        wait_until_stored(house.folder, sent)
        stored = set(seqs(house.folder))
    missing = [n for n in range(begun, sent) if n not in stored]
    result.at_stake_s.append(killed_s - sender.sent_s[missing[0]] if missing else 0.0)
    if part == "supervisor":
        before = set(house.seen)
        house.start()
        # Its logger may still store a moment longer, which would pass for the new one's.
        until(lambda: not any(alive(pid) for pid in before))
    if part != "dashboard":
        wait_until_stored(house.folder, len(sender.sent_s))
        result.back_s.append(CLOCK.real_s() - killed_s)


def main() -> int:
    """Kills, copies, prints."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kills", type=int, default=100)
    parser.add_argument("--copies", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    chance, results, torn_short, copies = random.Random(args.seed), {part: Kills() for part in WEIGHTS}, 0, 0
    # Each is killed at least once, the rest by weight.
    parts = [*WEIGHTS, *chance.choices(list(WEIGHTS), list(WEIGHTS.values()), k=args.kills - len(WEIGHTS))]
    with tempfile.TemporaryDirectory() as space, (Path(space) / "said").open("w+") as said:
        terminal, folder = Terminal(), Path(space) / "cooks"
        house = Started(folder, f"serial://{terminal.path}", said)
        until(house.answers)
        sender = Sender(terminal)
        try:
            for number, part in enumerate(parts, 1):
                kill(house, part, sender, results[part], chance)
                (path,) = recordings(folder)
                while copies < args.copies * number / len(parts):
                    copies += 1
                    pid, copy = house.pid_of("logger"), Path(space) / "copy.cook"
                    assert pid is not None
                    Event().wait(chance.uniform(0.0, 0.1))
                    copied(path, pid, copy, chance if copies % 3 else None)
                    got, now = seqs_of_sound_copy(copy), seqs(folder)
                    assert got == now[: len(got)], "a copy is no beginning of the cook"
                    torn_short += len(got) < len(now)
                    for left in copy.parent.glob("copy.cook*"):
                        left.unlink()
                if sys.stderr.isatty():
                    print(f"\r{number} of {len(parts)}", end="", file=sys.stderr)
        finally:
            sender.close()
            status = house.end(signal.SIGTERM)
            terminal.close()
        (path,) = recordings(folder)
        with closing(sqlite3.connect(path)) as connection:
            sound = connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        stored = seqs(folder)
        resumed = [event.kind for event in summary(path).events].count("resumed")
        left_over = [pid for pid in house.seen if alive(pid)]
        said.seek(0)
        tracebacks = said.read().count("Traceback")
    print(f"{'killed':<12}{'times':>6}{'committed lost':>16}{'at stake s':>14}{'back s':>10}{'most':>8}")
    for part, result in results.items():
        print(result.row(part))
    print(f"{copies} copies at random instants, two in three torn: all sound, each a beginning of the cook;")
    print(f"  {torn_short} of them shorter than the cook just then")
    print(
        f"packs stored {len(stored)}, twice {len(stored) - len(set(stored))}; resumed {resumed} times in one recording"
    )
    print(f"integrity {'ok' if sound else 'BROKEN'}; processes left {len(left_over)}; tracebacks {tracebacks}")
    good = sound and not left_over and not tracebacks and len(stored) == len(set(stored)) and status == 0
    for result in results.values():
        good &= not result.committed_lost and max(result.at_stake_s) <= MOST_AT_STAKE_S
        good &= max(result.back_s) <= BACK_WITHIN_S
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
