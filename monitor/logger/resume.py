"""How the time of a cook goes on after a restart of the logger or of the machine."""

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from monitor.logger.state_file import StateFile
from monitor.runtime import Anchor
from monitor.storage import RecordingError, WatchedFolder, running, summary, unfinished

# A cook that was last heard of longer ago than this is over, finished or not.
RESUMED_WITHIN_S = 12 * 3600.0


def resumed_anchor(tied: Anchor, last_known: float, fresh: Anchor) -> Anchor | None:
    """The tie of cook time to the clock from now on; None where the cook is too old to go on.

    tied: the recording's latest tie. last_known: Unix seconds. fresh: this moment by the wall clock. On the same boot
    the time since boot counts, which no step of the wall clock bends; else the wall clock, but never backwards.

    >>> resumed_anchor(Anchor(100.0, 100.0, "b", 5.0), 130.0, Anchor(3735.0, 3735.0, "b", 40.0)).cook_time
    135.0
    """
    if tied.rate != fresh.rate:
        return None
    same_boot = bool(tied.boot_id) and tied.boot_id == fresh.boot_id
    told = tied.cook_time + (fresh.boot_s - tied.boot_s) * tied.rate if same_boot else fresh.cook_time
    now = max(told, last_known)
    if now - last_known >= RESUMED_WITHIN_S:
        return None
    return Anchor(now, fresh.wall, fresh.boot_id, fresh.boot_s, fresh.rate)


def cook_to_resume(folder: Path, rig: str, fresh: Anchor) -> tuple[Path, Anchor] | None:
    """The running cook of this rig and how its time goes on at ``fresh``; None where there is none to go on with."""
    if running(folder, rig) is None:
        return None
    for path in unfinished(folder).get(rig, ()):
        cook = summary(path)
        anchor = resumed_anchor(cook.about.anchor, cook.last_known, fresh)
        if anchor is not None:
            return path, anchor
    return None


@dataclass(frozen=True, slots=True)
class AbsentCook:
    """A cook under way whose folder is away. place: knows that folder. anchor: how the cook's time goes on."""

    path: Path
    place: WatchedFolder
    anchor: Anchor


def absent_cook(folder: Path, rig: str, fresh: Anchor) -> AbsentCook | None:
    """The cook that this rig's logger had under way when the folder went away; None where nothing is missed."""
    kept = StateFile(folder, rig).read()
    if kept is None:
        return None
    place = WatchedFolder(folder, kept.identity)
    if not place.is_away(kept.cook):
        return None
    anchor = resumed_anchor(kept.anchor, kept.anchor.cook_time, fresh)
    return None if anchor is None else AbsentCook(folder / kept.cook, place, anchor)


def starting_anchor(folder: Path, rig: str, fresh: Anchor) -> Anchor:
    """Where the logger's clock starts: at the running cook's own time, or at ``fresh`` when none goes on."""
    waits = absent_cook(folder, rig, fresh)
    if waits is not None:
        return waits.anchor
    with suppress(RecordingError):
        found = cook_to_resume(folder, rig, fresh)
        if found is not None:
            return found[1]
    return fresh
