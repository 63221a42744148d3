"""What the logger takes: memory and processor at 1 Hz with four channels over a real pseudo-terminal.

    python -m tests.bench.logger_footprint [--seconds 60] [--rate 1]

Prints the resident memory in MB and the share of one core in per cent, and ends with 1 when they are above the
targets (45 MB, 2 %) at 1 Hz or a pack is missing.
"""

import argparse
import math
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from threading import Event

from monitor.protocol import encode_line
from monitor.runtime import SystemClock
from monitor.storage import load, recordings
from tests.sources.polling import Terminal

MOST_MB = 45.0
MOST_PERCENT = 2.0


def memory_mb(pid: int) -> tuple[float, float]:
    """Resident memory now and at its highest, MB of 1e6 bytes."""
    lines = dict(line.split(":", 1) for line in Path(f"/proc/{pid}/status").read_text().splitlines() if ":" in line)
    return tuple(int(lines[key].split()[0]) * 1024 / 1e6 for key in ("VmRSS", "VmHWM"))  # type: ignore[return-value]


def processor_s(pid: int) -> float:
    """Processor time so far, of its own and in the system, seconds."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def written_bytes(pid: int) -> tuple[int, int]:
    """Bytes so far that it wrote, and that went to a disk in whole pages (proc(5), /proc/PID/io)."""
    lines = dict(line.split(": ") for line in Path(f"/proc/{pid}/io").read_text().splitlines())
    return int(lines["wchar"]), int(lines["write_bytes"])


def line(number: int) -> bytes:
    """One pack of four channels."""
    wave = math.sin(number / 50)
    channels = [("paste", "Cel", 92 + wave), ("wall", "Cel", 97 + wave), ("room", "Cel", 21.0), ("ph", "V", -0.16)]
    records: list[dict[str, object]] = [{"n": n, "u": u, "v": round(v, 2)} for n, u, v in channels]
    return encode_line([*records, {"n": "seq", "u": "count", "v": number}])


def main() -> int:
    """Runs the logger, feeds it, measures it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--rate", type=float, default=1.0, help="packs a second (1)")
    args = parser.parse_args()
    clock, patience, terminal = SystemClock(), Event(), Terminal()
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "monitor.cli", "log", "--source", f"serial://{terminal.path}"]
        with subprocess.Popen([*command, "--recordings", folder], stderr=subprocess.PIPE) as logger:
            assert logger.stderr is not None
            # It says so once its port is open and the recording made.
            logger.stderr.readline()
            patience.wait(1.0)
            before = written_bytes(logger.pid)
            started_s, used_s, sent = clock.real_s(), processor_s(logger.pid), 0
            while (elapsed_s := clock.real_s() - started_s) < args.seconds:
                if sent <= elapsed_s * args.rate:
                    terminal.send(line(sent))
                    sent += 1
                else:
                    patience.wait(min(1.0, sent / args.rate - elapsed_s))
            share_percent = 100 * (processor_s(logger.pid) - used_s) / (clock.real_s() - started_s)
            patience.wait(1.5)
            an_hour = 3600.0 / (clock.real_s() - started_s)
            wrote, disk = (
                round((now - was) * an_hour / 1e6) for now, was in zip(written_bytes(logger.pid), before, strict=True)
            )
            now_mb, highest_mb = memory_mb(logger.pid)
            logger.terminate()
        (path,) = recordings(Path(folder))
        stored = len(load(path).series["paste"])
        size_kb = path.stat().st_size / 1e3
    terminal.close()
    print(f"{args.seconds:g} s at {args.rate:g} packs/s of four channels: {sent} sent, {stored} stored")
    print(f"resident {now_mb:.1f} MB (highest {highest_mb:.1f} MB), processor {share_percent:.2f} % of a core")
    print(f"writes {wrote} MB an hour, to a disk {disk} MB an hour")
    print(f"file {size_kb:.0f} kB, {size_kb * 1e3 / max(1, stored) / 4:.0f} bytes a reading")
    too_much = args.rate <= 1.0 and (highest_mb > MOST_MB or share_percent > MOST_PERCENT)
    return 1 if too_much or stored != sent else 0


if __name__ == "__main__":
    sys.exit(main())
