"""Which cook a command means: found by its name or a part of it, or the one that runs."""

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.runtime import MonitorError

if TYPE_CHECKING:
    from monitor.session import Cook

LATEST = "latest"
# More would be no sentence any more.
MOST_NAMED = 8


class ManyCooksError(MonitorError):
    """Several cooks have what was asked for in their names. asked: it. names: of the cooks."""

    def __init__(self, asked: str, names: tuple[str, ...]) -> None:
        self.asked = asked
        self.names = names
        more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
        super().__init__(f"“{asked}” may mean {', '.join(names[:MOST_NAMED])}{more}; say more of the name.")


class NoCookRunsError(MonitorError):
    """No cook runs, or several do. why: one sentence."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


def find(asked: str, folder: Path) -> Path:
    """The file of the recording that is meant: a file, a name in the folder, or a part of one name or title alone.

    Capitals do not matter in a part; ``latest`` is the latest. Raises RecordingError where there is none, and
    ManyCooksError.
    """
    from monitor.storage import SUFFIX, RecordingError, recordings

    paths = recordings(folder)
    if asked == LATEST:
        if not paths:
            raise RecordingError(folder, "there is no cook in it yet")
        return paths[0]
    path = Path(asked)
    if path.is_file():
        return path
    # With a suffix but not only a name it was meant as a path.
    if path.suffix != SUFFIX or path.name == asked:
        path = folder / f"{asked.removesuffix(SUFFIX)}{SUFFIX}"
    if path.is_file():
        return path
    found = only_one(asked, {one.stem: one for one in paths}) if asked.strip() and Path(asked).name == asked else None
    if found is None:
        found = _by_title(asked, paths)
    if found is None:
        raise RecordingError(path, "there is no such file")
    return found


def only_one(asked: str, named: dict[str, Path]) -> Path | None:
    """The one whose name has this part, whatever its capitals; None for none. Raises ManyCooksError."""
    names = [name for name in named if asked.casefold() in name.casefold()]
    if len(names) > 1:
        raise ManyCooksError(asked, tuple(names))
    return named[names[0]] if names else None


def _by_title(asked: str, paths: Iterable[Path]) -> Path | None:
    from contextlib import suppress

    from monitor.storage import RecordingError, summary

    found: list[Path] = []
    for path in paths if asked.strip() else ():
        with suppress(RecordingError):
            if asked.casefold() in summary(path).title.casefold():
                found.append(path)
    if len(found) > 1:
        raise ManyCooksError(asked, tuple(path.stem for path in found))
    return found[0] if found else None


def running_cook(folder: Path, rig: str | None) -> "Cook":
    """The cook that runs at this cooker, or the only one that runs. Raises NoCookRunsError, RecordingError."""
    from monitor.session import CookLibrary
    from monitor.storage import is_running, read_header, recordings

    rigs = {read_header(path).rig for path in recordings(folder) if is_running(path, rig)}
    if len(rigs) > 1:
        raise NoCookRunsError(f"Several cooks run ({', '.join(sorted(rigs))}); say which by --rig NAME.")
    cook = CookLibrary(folder).running(*rigs) if rigs else None
    if cook is None:
        whose = f" of the cooker {rig}" if rig is not None else ""
        raise NoCookRunsError(f"No cook{whose} is running in {folder}.")
    return cook
