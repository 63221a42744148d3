"""The folder of recordings: whether they can be read, who may read its secrets, and who writes into it now."""

import os
import re
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from monitor.ops.diagnostics.finding import Finding, FindingState
from monitor.storage import RecordingError, connect_read_only, errors_named, recordings

SECRETS = ("pairing-key", "notices.toml")


def check_recordings(folder: Path, progress: Callable[[int, int], None] | None = None) -> list[Finding]:
    """Every recording that SQLite's own quick check finds damaged. progress: takes the number checked and the total."""
    findings, whole = [], 0
    paths = recordings(folder)
    for number, path in enumerate(paths, 1):
        why = _damage(path)
        if progress is not None:
            progress(number, len(paths))
        if why is None:
            whole += 1
            continue
        findings.append(
            Finding(
                "recordings",
                FindingState.WRONG,
                f"{path.name} cannot be read: {why}.",
                f"Try what is left of it: kettleside import {path}.",
            )
        )
    text = "There is no recording yet." if not whole else f"{whole} can be read."
    return findings or [Finding("recordings", FindingState.WELL, text)]


def _damage(path: Path) -> str | None:
    try:
        with closing(connect_read_only(path)) as connection, errors_named(path):
            answer: str = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    except RecordingError as error:
        return error.why
    return None if answer == "ok" else answer.replace("\n", " ").strip().rstrip(".")


def check_permissions(folder: Path) -> list[Finding]:
    """Whether the pairing key and the notices' settings can be read by their owner alone."""
    place = folder / ".kettleside"
    if not place.is_dir():
        return [
            Finding("pairing", FindingState.WELL, "No phone has been paired yet; the key is made with the first page.")
        ]
    if not os.access(place, os.R_OK | os.X_OK):
        advice = "Run this as the one who runs the page, such as: sudo -u kettleside kettleside doctor."
        return [
            Finding(
                "pairing", FindingState.NOTE, f"{place} is another's, so what is in it cannot be looked at.", advice
            )
        ]
    findings = []
    for path, allowed in [(place, 0o700), *((place / name, 0o600) for name in SECRETS)]:
        if not path.exists():
            continue
        mode = path.stat().st_mode & 0o777
        if mode & ~allowed:
            findings.append(
                Finding(
                    "pairing" if path.name != "notices.toml" else "notices",
                    FindingState.WRONG,
                    f"{path} can be read or changed by others (mode {mode:o}).",
                    f"Shut it: chmod {allowed:o} {path}.",
                )
            )
    return findings or [Finding("pairing", FindingState.WELL, "The key is for its owner's eyes alone.")]


def check_loggers(folder: Path, program: Path, now_wall: float, now_boot_s: float) -> list[Finding]:
    """Which loggers record here now, and whether any of them began before the program was last changed.

    program: the folder of the program's files. now_wall: Unix seconds. now_boot_s: seconds since boot.
    """
    changed = max((path.stat().st_mtime for path in program.rglob("*.py")), default=0.0)
    findings = []
    for lock in sorted(folder.glob(".logger-*.lock")):
        cooker = lock.name.removeprefix(".logger-").removesuffix(".lock")
        pid = _holder(lock)
        if pid is None:
            continue
        started = _start_s(pid)
        outdated = started is not None and now_wall - (now_boot_s - started) < changed - 1.0
        if outdated:
            advice = f"Start kettleside anew when no cook suffers by it, or end the logger alone: kill {pid}."
            text = f"The logger of {cooker} (process {pid}) has run since before the program was last changed."
            findings.append(Finding("logger", FindingState.WRONG, text, advice))
        else:
            findings.append(
                Finding("logger", FindingState.WELL, f"One records the cooker {cooker} now (process {pid}).")
            )
    return findings or [Finding("logger", FindingState.WELL, "None runs now.")]


def _holder(lock: Path) -> int | None:
    """The process that holds this lock (proc(5), /proc/locks), or None."""
    try:
        inode = lock.stat().st_ino
        held = Path("/proc/locks").read_text(encoding="ascii")
    except OSError:
        return None
    match = re.search(rf"^\d+: FLOCK\s+ADVISORY\s+WRITE (\d+) \S+:{inode} ", held, re.MULTILINE)
    return int(match[1]) if match else None


def _start_s(pid: int) -> float | None:
    """When a process began, seconds since boot (proc(5), /proc/PID/stat, field 22)."""
    if sys.platform == "win32":
        return None
    try:
        fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii", errors="replace").rpartition(")")[2].split()
    except OSError:
        return None
    return int(fields[19]) / os.sysconf("SC_CLK_TCK")
