"""Ten cooks at once: the dashboard's memory beside that with one, and what ten loggers and the notices add.

    python -m tests.bench.ten_cookers [--minutes 3]

Starts `kettleside start` with one source and then with ten, each a real pseudo-terminal that sends four channels a
second, over cooks that have run for six hours already; a phone for each cook and one at the list ask over HTTP all
along. Prints resident (RSS) and own (USS) memory, MB of 1e6 bytes, and ends with 1 when the dashboard with ten takes
more than twice what it takes with one, or a reading is missing.
"""

import argparse
import signal
import subprocess
import sys
import tempfile
import threading
from dataclasses import dataclass
from pathlib import Path

from monitor.runtime import SystemClock
from monitor.storage import load, read_header, recordings
from tests.bench.dashboard_soak import Phone
from tests.bench.logger_footprint import line, memory_mb, processor_s
from tests.cli.processes import children_of
from tests.dashboard.seeded import Maker
from tests.sources.mosquitto import free_port
from tests.sources.polling import Terminal

HOURS = 6.0
MOST_TIMES = 2.0


@dataclass(frozen=True, slots=True)
class Taken:
    """MB of the dashboard (RSS, USS), of all loggers (RSS, USS sums) and of the notices; per cent of a core of all."""

    page: tuple[float, float]
    loggers: tuple[float, float]
    notices: tuple[float, float]
    percent: float
    lost: int
    asked: int
    missed: int


def own_mb(pid: int) -> float:
    """Memory that no other process shares, MB."""
    rows = (row.split() for row in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()[1:])
    return sum(int(row[1]) * 1024 / 1e6 for row in rows if row[0].startswith("Private_"))


def command_of(pid: int) -> str:
    """Which of kettleside's commands a process is."""
    words = Path(f"/proc/{pid}/cmdline").read_text().split("\0")
    return words[words.index("monitor.cli") + 1]


def measured(count: int, seconds: float) -> Taken:
    """So many cooks for so long."""
    clock, stop, port = SystemClock(), threading.Event(), free_port()
    names = [f"pot {number + 1}" for number in range(count)]
    terminals = {name: Terminal() for name in names}
    with tempfile.TemporaryDirectory() as folder, (Path(folder) / "said").open("w") as said:
        for number, name in enumerate(names):
            Maker(Path(folder), clock, hours=HOURS, title=f"Soap of {name}", rig=name, seed=number).recorder.close()
        command = [sys.executable, "-m", "monitor.cli", "start", "--recordings", folder]
        command += ["--host", "127.0.0.1", "--port", str(port)]
        for name, terminal in terminals.items():
            command += ["--source", f"{name}=serial://{terminal.path}"]
        house = subprocess.Popen(command, stdout=said, stderr=said)
        try:
            key = Path(folder) / ".kettleside" / "pairing-key"
            while not key.exists() or len(children_of(house.pid)) < count + 2 or not _answers(port):
                stop.wait(0.2)
            cooks = {read_header(path).rig: path for path in recordings(Path(folder))}
            before = {name: len(load(path).series["paste"]) for name, path in cooks.items()}
            url = f"http://127.0.0.1:{port}/?key={key.read_text().strip()}"
            phones = [Phone(url, number, stop) for number in range(count)]
            for phone, path in zip(phones, cooks.values(), strict=True):
                phone.cook = path.stem
                phone.start()
            parts = {pid: command_of(pid) for pid in children_of(house.pid)}
            used_s, began_s = sum(map(processor_s, parts)), clock.real_s()
            sent = 0
            while clock.real_s() - began_s < seconds:
                for terminal in terminals.values():
                    terminal.send(line(sent))
                sent += 1
                stop.wait(max(0.0, began_s + sent - clock.real_s()))
            stop.wait(2.0)
            percent = 100 * (sum(map(processor_s, parts)) - used_s) / (clock.real_s() - began_s)
            memory = {pid: (memory_mb(pid)[0], own_mb(pid)) for pid in parts}
            stop.set()
            for phone in phones:
                phone.join(30)
        finally:
            house.send_signal(signal.SIGINT)
            house.wait(30)
        lost = sum(before[name] + sent - len(load(path).series["paste"]) for name, path in cooks.items())

    def summed(part: str) -> tuple[float, float]:
        mine = [mb for pid, mb in memory.items() if parts[pid] == part]
        return sum(one[0] for one in mine), sum(one[1] for one in mine)

    for terminal in terminals.values():
        terminal.close()
    asked, missed = sum(phone.asked for phone in phones), sum(phone.missed for phone in phones)
    return Taken(summed("serve"), summed("log"), summed("notices"), percent, lost, asked, missed)


def _answers(port: int) -> bool:
    import urllib.request
    from urllib.error import URLError

    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/healthz", timeout=5) as answer:
            return bool(answer.status == 200)
    except (URLError, OSError):
        return False


def main() -> int:
    """One, then ten."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=3.0, help="for each of the two (3)")
    seconds = parser.parse_args().minutes * 60
    found = {count: measured(count, seconds) for count in (1, 10)}
    for count, one in found.items():
        print(
            f"{count:2d} cooks: dashboard {one.page[0]:.1f} MB (own {one.page[1]:.1f}); loggers {one.loggers[0]:.1f} "
            f"(own {one.loggers[1]:.1f}); notices {one.notices[0]:.1f} (own {one.notices[1]:.1f}); all {one.percent:.1f} % of a "
            f"core; {one.lost} readings lost; {one.asked} questions, {one.missed} without answer"
        )
    times = [found[10].page[way] / found[1].page[way] for way in (0, 1)]
    print(f"the dashboard with ten beside one: {times[0]:.2f} times resident, {times[1]:.2f} times its own")
    well = max(times) <= MOST_TIMES and not any(one.lost or one.missed for one in found.values())
    return 0 if well else 1


if __name__ == "__main__":
    sys.exit(main())
