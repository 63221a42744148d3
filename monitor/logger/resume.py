"""Which cook a logger goes on with after a restart of its own or of the machine, and how the cook's time goes on."""

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from monitor.logger.state_file import StateFile
from monitor.runtime import Anchor
from monitor.storage import RecordingError, WatchedFolder, running, summary, unfinished

# A cook last heard of longer ago than this is over, finished or not.
RESUMED_WITHIN_S = 12 * 3600.0


def resumed_anchor(anchor: Anchor, last_known: float, now: Anchor) -> Anchor | None:
    """The anchor of cook time from now on; None where the cook is too old to go on, or of another clock rate.

    anchor: the latest in the recording. last_known: when something of the cook last became known, Unix seconds.
    now: this moment by the wall clock. On the same boot the time since boot counts, which no step of the wall clock
    bends; else the wall clock, but never backwards.

    >>> resumed_anchor(Anchor(100.0, 100.0, "b", 5.0), 130.0, Anchor(3735.0, 3735.0, "b", 40.0)).cook_time
    135.0
    """
    if anchor.rate != now.rate:
        return None
    same_boot = bool(anchor.boot_id) and anchor.boot_id == now.boot_id
    counted = anchor.cook_time + (now.boot_s - anchor.boot_s) * anchor.rate if same_boot else now.cook_time
    cook_time = max(counted, last_known)
    if cook_time - last_known >= RESUMED_WITHIN_S:
        return None
    return Anchor(cook_time, now.wall, now.boot_id, now.boot_s, now.rate)


def cook_to_resume(folder: Path, rig: str, now: Anchor) -> tuple[Path, Anchor] | None:
    """The running cook of this rig and how its time goes on at ``now``; None where there is none to go on with."""
    if running(folder, rig) is None:
        return None
    for path in unfinished(folder).get(rig, ()):
        cook = summary(path)
        anchor = resumed_anchor(cook.about.anchor, cook.last_known, now)
        if anchor is not None:
            return path, anchor
    return None


@dataclass(frozen=True, slots=True)
class AbsentCook:
    """A cook under way whose folder is away. folder: recognises it. anchor: how the cook's time goes on."""

    path: Path
    folder: WatchedFolder
    anchor: Anchor


def absent_cook(folder: Path, rig: str, now: Anchor) -> AbsentCook | None:
    """The cook that this rig's logger had under way when the folder went away; None where nothing is missing."""
    state = StateFile(folder, rig).read()
    if state is None:
        return None
    watched = WatchedFolder(folder, state.folder)
    if not watched.is_away(state.cook):
        return None
    anchor = resumed_anchor(state.anchor, state.anchor.cook_time, now)
    return None if anchor is None else AbsentCook(folder / state.cook, watched, anchor)


def starting_anchor(folder: Path, rig: str, now: Anchor) -> Anchor:
    """Where the logger's clock starts: at the running cook's own time, or at ``now`` when none goes on."""
    absent = absent_cook(folder, rig, now)
    if absent is not None:
        return absent.anchor
    with suppress(RecordingError):
        resumed = cook_to_resume(folder, rig, now)
        if resumed is not None:
            return resumed[1]
    return now
