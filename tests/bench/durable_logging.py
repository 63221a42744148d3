"""How fast packs are stored durably, beside bare sqlite3 that stores the same rows.

    python -m tests.bench.durable_logging [--seconds 60] [--rounds 5]

Both write to the same disk in one run, taking turns: packs of four channels, one commit for each second of packs at
200 packs a second, WAL, synchronous FULL. Ours goes the logger's whole way from bytes to commit: line, CRC, JSON,
SenML, repeats, recording. Prints rows a second of processor time and of wall time, and ends with 1 when ours is below
60 % of the bare one at storing (packs to commit). The whole way from bytes is printed beside it.
"""

import argparse
import sqlite3
import statistics
import sys
import tempfile
from collections.abc import Callable, Sequence
from contextlib import closing
from pathlib import Path
from time import perf_counter, process_time

from tqdm import tqdm

from monitor.logger.write_buffer import WriteBuffer
from monitor.protocol import LineDecoder, Pack
from monitor.runtime import Reporter
from monitor.runtime.clock import JumpClock
from monitor.storage import Recorder
from tests.bench.logger_footprint import line

PACKS_A_SECOND = 200
LEAST_SHARE = 0.6
_BARE = """
PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;
CREATE TABLE channel (id INTEGER PRIMARY KEY, name TEXT NOT NULL, unit TEXT NOT NULL, UNIQUE (name, unit));
CREATE TABLE pack (id INTEGER PRIMARY KEY, known REAL NOT NULL, seq INTEGER, digest INTEGER);
CREATE TABLE reading (id INTEGER PRIMARY KEY, pack INTEGER NOT NULL REFERENCES pack, channel INTEGER NOT NULL
    REFERENCES channel, measured REAL, value REAL, fault TEXT);
INSERT INTO channel (name, unit) VALUES ('paste', 'Cel'), ('wall', 'Cel'), ('room', 'Cel'), ('ph', 'V');
"""


def bare(folder: Path, seconds: Sequence[Sequence[Pack]]) -> None:
    """The same rows, by nothing but sqlite3: one INSERT a pack, one executemany for its readings."""
    numbers = {"paste": 1, "wall": 2, "room": 3, "ph": 4}
    with closing(sqlite3.connect(folder / "bare.db", isolation_level=None)) as connection:
        connection.executescript(_BARE)
        for packs in seconds:
            connection.execute("BEGIN IMMEDIATE")
            for pack in packs:
                cursor = connection.execute(
                    "INSERT INTO pack (known, seq, digest) VALUES (?, ?, ?)", (pack.arrived, pack.seq, pack.digest)
                )
                connection.executemany(
                    "INSERT INTO reading (pack, channel, measured, value, fault) VALUES (?, ?, ?, ?, ?)",
                    [(cursor.lastrowid, numbers[r.channel], r.time, r.value, r.fault) for r in pack.records],
                )
            connection.execute("COMMIT")


def ours(folder: Path, seconds: Sequence[Sequence[Pack]]) -> None:
    """The logger's keeper and recorder."""
    clock = JumpClock()
    recorder = Recorder.create(folder, clock.anchor(), rig="cooker", source="bench")
    keeper = WriteBuffer(lambda: recorder, clock, Reporter("bench"), lambda _gone: None)
    for packs in seconds:
        for pack in packs:
            keeper.add(pack)
        if len(keeper.store()) != len(packs):
            raise SystemExit("Not all was stored.")
        clock.moment += 1.0
    keeper.release()


def from_bytes(folder: Path, lines: Sequence[bytes]) -> None:
    """From lines to commits."""
    feed, start = LineDecoder(), JumpClock().now()
    heard = [feed.feed(data, start + second) for second, data in enumerate(lines)]
    ours(folder, [[item for item in items if isinstance(item, Pack)] for items in heard])


def _timed(job: Callable[[Path], None]) -> tuple[float, float]:
    with tempfile.TemporaryDirectory(dir=Path.cwd()) as folder:
        used_s, began_s = process_time(), perf_counter()
        job(Path(folder))
        return process_time() - used_s, perf_counter() - began_s


def main() -> int:
    """Takes turns and prints the ratios."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=int, default=60, help="of readings in each round (60)")
    parser.add_argument("--rounds", type=int, default=5)
    args = parser.parse_args()
    lines = [
        b"".join(line(second * PACKS_A_SECOND + number) for number in range(PACKS_A_SECOND))
        for second in range(args.seconds)
    ]
    feed, start = LineDecoder(), JumpClock().now()
    seconds = [
        [item for item in feed.feed(data, start + second) if isinstance(item, Pack)]
        for second, data in enumerate(lines)
    ]
    jobs: dict[str, Callable[[Path], None]] = {
        "bare sqlite3": lambda folder: bare(folder, seconds),
        "ours, packs to commit": lambda folder: ours(folder, seconds),
        "ours, bytes to commit": lambda folder: from_bytes(folder, lines),
    }
    took: dict[str, list[tuple[float, float]]] = {name: [] for name in jobs}
    for _ in tqdm(range(args.rounds), leave=False):
        for name, job in jobs.items():
            took[name].append(_timed(job))
    rows = args.seconds * PACKS_A_SECOND * 4
    middle = {name: [statistics.median(one[way] for one in taken) for way in (0, 1)] for name, taken in took.items()}
    for name, (cpu_s, wall_s) in middle.items():
        print(f"{name:22s} {rows / cpu_s:9.0f} readings/s of processor time, {rows / wall_s:9.0f} of wall time")
    shares = [
        statistics.median(
            b[way] / o[way] for b, o in zip(took["bare sqlite3"], took["ours, packs to commit"], strict=True)
        )
        for way in (0, 1)
    ]
    print(f"packs to commit beside bare sqlite3: {shares[0]:.2f} by processor time, {shares[1]:.2f} by wall time")
    return 0 if min(shares) >= LEAST_SHARE else 1


if __name__ == "__main__":
    sys.exit(main())
