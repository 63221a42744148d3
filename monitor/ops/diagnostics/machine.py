"""The machine under the monitor: its clock, its disk, its libraries."""

import os
import shutil
import subprocess
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

# A cook of six hours with four channels takes 3 MB, but the disk is shared: below the first it is time to make room,
# below the second the next cook may not fit.
ROOM_MB = 500.0
LEAST_MB = 50.0
# A clock that is slewed to the right time moves by less than this in a cook.
STEP_S = 5.0
# A recording may end this much after the wall clock's moment, s, before the clock counts as wrong.
AHEAD_S = 60.0
# timedatectl asks a service over D-Bus.
ANSWERS_WITHIN_S = 5.0


def clock_is_synchronised() -> bool | None:
    """Whether systemd says that the clock follows a time server (timedatectl(1), NTPSynchronized).

    None where that is not known: without systemd, or where its service does not answer.
    """
    try:
        shown = subprocess.run(
            ["timedatectl", "show", "--property=NTPSynchronized", "--value"],
            capture_output=True,
            text=True,
            timeout=ANSWERS_WITHIN_S,
            check=False,
        ).stdout.strip()
    except (OSError, subprocess.TimeoutExpired):
        return None
    return {"yes": True, "no": False}.get(shown)


def check_clock(folder: Path, now: Anchor, synchronised: bool | None) -> list[Finding]:
    """Whether the clock is right: it follows a time server, was not set during a running cook, is past every recording.

    now: this moment by the wall clock and since boot. synchronised: what ``clock_is_synchronised`` says.
    """
    findings = []
    if synchronised is False:
        findings.append(
            Finding(
                "clock",
                FindingState.NOTE,
                "Nothing keeps this machine's clock right.",
                "Turn it on with: sudo timedatectl set-ntp true.",
            )
        )
    anchors, latest = _recorded_clocks(folder)
    findings += [finding for anchor in anchors if (finding := _step_during(anchor, now)) is not None]
    if latest is not None and latest - now.wall > AHEAD_S:
        findings.append(
            Finding(
                "clock",
                FindingState.WRONG,
                f"The clock stands {span(latest - now.wall)} before the last recording.",
                "Set it right before the next cook: sudo timedatectl set-ntp true, or sudo date --set.",
            )
        )
    if synchronised is None:
        well = "It has not stepped; whether anything keeps it right is not known here."
    else:
        well = "It is kept right and has not stepped."
    return findings or [Finding("clock", FindingState.WELL, well)]


def _step_during(anchor: Anchor, now: Anchor) -> Finding | None:
    """The step of the wall clock since this cook began, found against the time since boot; None without one."""
    if not anchor.boot_id or anchor.boot_id != now.boot_id or anchor.rate != now.rate:
        return None
    stepped_s = (now.wall - now.boot_s) - (anchor.wall - anchor.boot_s)
    if abs(stepped_s) <= STEP_S:
        return None
    direction = "forward" if stepped_s > 0 else "back"
    return Finding(
        "clock",
        FindingState.NOTE,
        f"The clock was set {direction} by {span(abs(stepped_s))} during the running cook.",
        "Its times are not bent by it, as they count from before; the next cook has the new time.",
    )


def _recorded_clocks(folder: Path) -> tuple[list[Anchor], float | None]:
    """The anchors of the running cooks, and the latest moment that any cook recorded by the wall clock, Unix seconds.

    Cooks that ran faster than life, and invented ones, had a clock of their own and do not count.
    """
    anchors, moments = [], []
    for path in recordings(folder):
        try:
            head = read_header(path)
            if head.anchor.rate == 1.0 and head.source != INVENTED:
                cook = summary(path)
                moments.append(cook.last_known)
                if cook.finished is None:
                    anchors.append(head.anchor)
        except RecordingError:
            continue
    return anchors, max(moments, default=None)


def check_disk(folder: Path, least_mb: float = LEAST_MB, room_mb: float = ROOM_MB) -> Finding:
    """Whether the folder can be written and has room.

    least_mb, room_mb: free space below which the finding is wrong, or worth a note; MB of 1e6 bytes.
    """
    place = next(path for path in (folder, *folder.absolute().parents) if path.exists())
    try:
        if place == folder:
            with tempfile.NamedTemporaryFile(dir=folder, prefix=".doctor-") as file:
                file.write(b"x" * 4096)
                file.flush()
        elif not os.access(place, os.W_OK):
            raise PermissionError(13, "permission denied")
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        return Finding(
            "disk", FindingState.WRONG, f"{place} cannot be written ({why}).", "Give your account rights on it."
        )
    free_mb = shutil.disk_usage(place).free / 1e6
    text = f"{free_mb:.0f} MB are free where {folder} is."
    if free_mb < least_mb:
        return Finding(
            "disk", FindingState.WRONG, text, "Make room before the next cook; one of six hours takes about 3 MB."
        )
    if free_mb < room_mb:
        return Finding("disk", FindingState.NOTE, text, "Make room soon.")
    return Finding("disk", FindingState.WELL, text)


def check_libraries(program: str = "kettleside") -> list[Finding]:
    """Whether each library is there in a version that the installed program asks for."""
    try:
        requirements: Sequence[str] = requires(program) or ()
    except PackageNotFoundError:
        return [
            Finding(
                "versions",
                FindingState.WRONG,
                "kettleside runs without being installed.",
                "Install it as the README says.",
            )
        ]
    findings = []
    for line in requirements:
        needed = Requirement(line)
        if needed.marker is not None and not needed.marker.evaluate({"extra": ""}):
            continue
        try:
            installed = version(needed.name)
        except PackageNotFoundError:
            installed = None
        if installed is None or not needed.specifier.contains(installed, prereleases=True):
            ours = f"kettleside {version(program)} needs {needed.specifier}"
            text = f"{needed.name} is {installed or 'missing'}, and {ours}."
            findings.append(
                Finding(
                    "versions",
                    FindingState.WRONG,
                    text,
                    "Install again: pip install -r requirements.txt, as in the README.",
                )
            )
    return findings or [
        Finding("versions", FindingState.WELL, f"kettleside {version(program)} has the libraries it asks for.")
    ]
