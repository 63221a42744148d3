"""The machine: its clock, its disk, its libraries."""

import ctypes
import os
import shutil
import sys
import tempfile
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path

from packaging.requirements import Requirement

from monitor.model import span
from monitor.ops.diagnostics.finding import Finding, FindingState
from monitor.runtime import Anchor
from monitor.simulator import INVENTED
from monitor.storage import RecordingError, read_header, recordings, summary

# A cook of six hours with four channels is 3 MB; below the first there is none for ten, below the second for none.
ROOM_MB = 500.0
LEAST_MB = 50.0
# A clock that is slewed to the right time moves by less than this in a cook.
STEP_S = 5.0
_STA_UNSYNC = 0x0040


def clock_kept() -> bool | None:
    """Whether the kernel says that something keeps its clock right (adjtimex(2)); None where it cannot be asked."""
    if sys.platform != "linux":
        return None
    told = _Timex()
    if ctypes.CDLL(None).adjtimex(ctypes.byref(told)) < 0:
        return None
    return not told.status & _STA_UNSYNC


class _Timex(ctypes.Structure):
    """The head of struct timex (adjtimex(2)); no mode is set, so nothing is changed."""

    _fields_ = (
        ("modes", ctypes.c_uint),
        ("offset", ctypes.c_long),
        ("freq", ctypes.c_long),
        ("maxerror", ctypes.c_long),
        ("esterror", ctypes.c_long),
        ("status", ctypes.c_int),
        ("rest", ctypes.c_long * 64),
    )


def clock(folder: Path, now: Anchor, kept: bool | None) -> list[Finding]:
    """Whether the clock is kept, whether it stepped during a running cook, whether it stands before a recording.

    now: this moment by the wall clock and since boot. kept: what ``clock_kept`` says.
    """
    found = []
    if kept is False:
        found.append(
            Finding(
                "clock",
                FindingState.NOTE,
                "Nothing keeps this machine's clock right.",
                "Turn it on with: sudo timedatectl set-ntp true.",
            )
        )
    ties, latest = _ties(folder)
    for tie in ties:
        if tie.boot_id and tie.boot_id == now.boot_id and tie.rate == now.rate:
            stepped_s = (now.wall - now.boot_s) - (tie.wall - tie.boot_s)
            if abs(stepped_s) > STEP_S:
                way = "forward" if stepped_s > 0 else "back"
                found.append(
                    Finding(
                        "clock",
                        FindingState.NOTE,
                        f"The clock was set {way} by {span(abs(stepped_s))} during the running cook.",
                        "Its times are not bent by it, as they count from before; the next cook has the new time.",
                    )
                )
    if latest is not None and latest - now.wall > 60.0:
        found.append(
            Finding(
                "clock",
                FindingState.WRONG,
                f"The clock stands {span(latest - now.wall)} before the last recording.",
                "Set it right before the next cook: sudo timedatectl set-ntp true, or sudo date --set.",
            )
        )
    return found or [Finding("clock", FindingState.WELL, "It is kept right and has not stepped.")]


def _ties(folder: Path) -> tuple[list[Anchor], float | None]:
    """How the running cooks are tied to the clock, and the latest moment of any that kept the wall clock's time."""
    ties, moments = [], []
    for path in recordings(folder):
        try:
            head = read_header(path)
            if head.anchor.rate == 1.0 and head.source != INVENTED:
                one = summary(path)
                moments.append(one.last_known)
                if one.finished is None:
                    ties.append(head.anchor)
        except RecordingError:
            continue
    return ties, max(moments, default=None)


def disk(folder: Path, least_mb: float = LEAST_MB, room_mb: float = ROOM_MB) -> Finding:
    """Whether the folder can be written and has room, MB of 1e6 bytes."""
    place = next(path for path in (folder, *folder.absolute().parents) if path.exists())
    try:
        if place == folder:
            with tempfile.NamedTemporaryFile(dir=folder, prefix=".doctor-") as trial:
                trial.write(b"x" * 4096)
                trial.flush()
        elif not os.access(place, os.W_OK):
            raise PermissionError(13, "permission denied")
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        return Finding(
            "disk", FindingState.WRONG, f"{place} cannot be written ({why}).", "Give your account rights on it."
        )
    free_mb = shutil.disk_usage(place).free / 1e6
    words = f"{free_mb:.0f} MB are free where {folder} is."
    if free_mb < least_mb:
        return Finding(
            "disk", FindingState.WRONG, words, "Make room before the next cook; one of six hours takes about 3 MB."
        )
    if free_mb < room_mb:
        return Finding("disk", FindingState.NOTE, words, "Make room soon.")
    return Finding("disk", FindingState.WELL, words)


def libraries(program: str = "kettleside") -> list[Finding]:
    """Whether each library is there in a version that the installed program asks for."""
    try:
        wanted: Sequence[str] = requires(program) or ()
    except PackageNotFoundError:
        return [
            Finding(
                "versions",
                FindingState.WRONG,
                "kettleside runs without being installed.",
                "Install it as the README says.",
            )
        ]
    found = []
    for text in wanted:
        one = Requirement(text)
        if one.marker is not None and not one.marker.evaluate({"extra": ""}):
            continue
        try:
            there = version(one.name)
        except PackageNotFoundError:
            there = None
        if there is None or not one.specifier.contains(there, prereleases=True):
            words = f"{one.name} is {there or 'missing'}, and kettleside {version(program)} needs {one.specifier}."
            found.append(
                Finding(
                    "versions",
                    FindingState.WRONG,
                    words,
                    "Install again: pip install -r requirements.txt, as in the README.",
                )
            )
    return found or [
        Finding("versions", FindingState.WELL, f"kettleside {version(program)} has the libraries it asks for.")
    ]
