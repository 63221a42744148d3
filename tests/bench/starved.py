"""The machine itself in trouble: disk full and freed again, folder read-only, stopped, clock stepped, asleep.

    python -m tests.bench.starved [--rounds 5]

The real ``kettleside log`` on a pseudo-terminal with fifty numbered packs a second. The disk is a tmpfs of 1 MB that is
really filled and really remounted read-only, so this needs root on Linux. The wall clock and the time since boot that
the logger sees are moved as ``tests.logger.shifted`` does. Prints for each trouble the packs sent and stored, the
sentences that were said of it, and whether times ran on; ends with 1 where a pack is missing that the trouble did not
swallow on the line, one is there twice, more than one sentence was said of one trouble, or a file is not sound.
"""

import argparse
import os
import signal
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from itertools import pairwise
from pathlib import Path
from threading import Event

from tests.logger.running import CLOCK, PATIENCE_S, Logger, Sender, seqs, wait_until_stored
from tests.logger.shifted import Shifted
from tests.sources.polling import Terminal

HOUR_S = 3600.0


@contextmanager
def small_disk() -> Iterator[Path]:
    """A folder on a disk of 1 MB of its own."""
    with tempfile.TemporaryDirectory() as space:
        subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", space], check=True)
        try:
            yield Path(space)
        finally:
            subprocess.run(["umount", "--lazy", space], check=True)


def filled(folder: Path) -> None:
    """Takes the last byte of the disk."""
    with (folder / "ballast").open("ab", buffering=0) as file:
        while True:
            try:
                file.write(bytes(4096))
            except OSError:
                return


def remounted(folder: Path, how: str) -> None:
    """Makes the disk read-only ("ro") or writable ("rw"), as a failing card is."""
    subprocess.run(["mount", "-o", f"remount,{how}", str(folder)], check=True)


def known_times(folder: Path) -> list[float]:
    """When each pack became known, Unix seconds."""
    (path,) = folder.glob("*.cook")
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
        return [row[0] for row in connection.execute("SELECT known FROM pack ORDER BY id")]


def row(name: str, rounds: int, sender: Sender, folder: Path, said: bytes, trouble: bytes, on_line: int) -> bool:
    """Prints one line of the table; whether all is well. on_line: packs that the trouble may swallow on the line."""
    stored = seqs(folder)
    (path,) = folder.glob("*.cook")
    with closing(sqlite3.connect(path)) as connection:
        sound = connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    sent, twice, sentences = len(sender.sent_s), len(stored) - len(set(stored)), said.count(trouble)
    # What was sent before the port was first opened went nowhere.
    lost = max(stored) - min(stored) + 1 - len(set(stored))
    steps = [later - earlier for earlier, later in pairwise(known_times(folder))]
    print(
        f"{name:<26}{rounds:>7}{sent:>7}{lost:>6}{twice:>7}{sentences:>11}{'ok' if sound else 'BROKEN':>10}"
        f"{min(steps):>9.2f}{max(steps):>9.2f}",
        flush=True,
    )
    return sound and not twice and lost <= on_line and sentences <= rounds and min(steps) >= 0.0


def storing_trouble(
    name: str, rounds: int, words: bytes, begin: Callable[[Path], None], end: Callable[[Path], None]
) -> bool:
    """A disk that takes nothing for a while."""
    with small_disk() as folder:
        terminal = Terminal()
        logger, sender = Logger(folder, f"serial://{terminal.path}"), Sender(terminal)
        wait_until_stored(folder, 0)
        for _ in range(rounds):
            said = logger.said.count(b"is written again")
            begin(folder)
            logger.wait_for(words)
            Event().wait(1.5)
            end(folder)
            while logger.said.count(b"is written again") == said:
                logger.wait_for_more()
            wait_until_stored(folder, len(sender.sent_s))
        sender.close()
        Event().wait(1.0)
        logger.stop()
        terminal.close()
        return row(name, rounds, sender, folder, logger.said, words, on_line=0)


def read_only(rounds: int) -> bool:
    """A disk that is read-only when the logger starts, and then no longer."""
    with small_disk() as folder:
        terminal = Terminal()
        source, said = f"serial://{terminal.path}", b""
        logger, sender = Logger(folder, source), Sender(terminal)
        wait_until_stored(folder, 0)
        refused = 0
        for _ in range(rounds):
            logger.kill()
            remounted(folder, "ro")
            logger = Logger(folder, source)
            # It ends by itself.
            refused += logger.process.wait(PATIENCE_S) == 1
            logger.stop()
            said += logger.said
            remounted(folder, "rw")
            logger = Logger(folder, source)
            wait_until_stored(folder, len(sender.sent_s))
        sender.close()
        Event().wait(1.0)
        logger.stop()
        terminal.close()
        good = row("disk read-only at start", rounds, sender, folder, said, b"read-only", on_line=rounds * 1000)
        return good and refused == rounds and said.count(b"\n") == rounds


def stopped(rounds: int) -> bool:
    """The logger stopped for 3 s and let go on, as a machine that is suspended; the line keeps 4 kB meanwhile."""
    with tempfile.TemporaryDirectory() as space:
        folder, terminal = Path(space) / "cooks", Terminal()
        logger, sender = Logger(folder, f"serial://{terminal.path}"), Sender(terminal)
        wait_until_stored(folder, 0)
        for _ in range(rounds):
            logger.process.send_signal(signal.SIGSTOP)
            Event().wait(3.0)
            logger.process.send_signal(signal.SIGCONT)
            wait_until_stored(folder, len(sender.sent_s))
        sender.close()
        Event().wait(1.0)
        logger.stop()
        terminal.close()
        return row("stopped for 3 s", rounds, sender, folder, logger.said, b"Traceback", on_line=rounds * 200)


def clock_moved(name: str, rounds: int, wall_s: float, boot_s: float) -> bool:
    """The wall clock stepped, there and back, or the machine asleep, while the logger runs and across a restart."""
    with tempfile.TemporaryDirectory() as space, Shifted(Path(space)) as shift:
        folder, terminal = Path(space) / "cooks", Terminal()
        source = f"serial://{terminal.path}"
        logger, sender = Logger(folder, source, started_by=shift.command), Sender(terminal)
        wait_until_stored(folder, 0)
        for number in range(rounds):
            shift.move(wall_s if number % 2 == 0 else -wall_s, boot_s)
            wait_until_stored(folder, len(sender.sent_s))
            logger.kill()
            logger = Logger(folder, source, started_by=shift.command)
            wait_until_stored(folder, len(sender.sent_s))
        sender.close()
        Event().wait(1.0)
        logger.stop()
        terminal.close()
        slept = (
            [step for step in (b - a for a, b in pairwise(known_times(folder))) if step > boot_s / 2] if boot_s else []
        )
        good = row(name, rounds, sender, folder, logger.said, b"Traceback", on_line=rounds * 400)
        return good and len(slept) == (rounds if boot_s else 0)


def main() -> int:
    """Tries every trouble."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=5)
    args = parser.parse_args()
    if os.geteuid() != 0:
        print("starved: only root can mount a small disk.", file=sys.stderr)
        return 2
    started_s, rounds = CLOCK.real_s(), args.rounds
    print(
        f"{'trouble':<26}{'times':>7}{'packs':>7}{'lost':>6}{'twice':>7}{'sentences':>11}{'file':>10}{'steps s':>9}{'to':>9}"
    )
    good = [
        storing_trouble("disk full", rounds, b"the disk is full", filled, lambda folder: (folder / "ballast").unlink()),
        read_only(rounds),
        stopped(rounds),
        clock_moved("wall clock 1 h on, back", rounds, HOUR_S, 0.0),
        clock_moved("wall clock 1 h back, on", rounds, -HOUR_S, 0.0),
        clock_moved("asleep for 1 h", rounds, HOUR_S, HOUR_S),
    ]
    print(f"in {CLOCK.real_s() - started_s:.0f} s")
    return 0 if all(good) else 1


if __name__ == "__main__":
    sys.exit(main())
