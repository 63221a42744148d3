"""Finds the cook that a command means: by its name or a part of it, or the cook that runs."""

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.runtime import MonitorError

if TYPE_CHECKING:
    from monitor.session import Cook

LATEST = "latest"
# With more the sentence would be too long to read.
MAX_NAMED = 8


class ManyCooksError(MonitorError):
    """Several cooks match. asked: what was asked for. names: the names of those cooks."""

    def __init__(self, asked: str, names: tuple[str, ...]) -> None:
        self.asked = asked
        self.names = names
        more = f" and {len(names) - MAX_NAMED} more" if len(names) > MAX_NAMED else ""
        super().__init__(f"“{asked}” may mean {', '.join(names[:MAX_NAMED])}{more}; say more of the name.")


class NoCookRunsError(MonitorError):
    """No cook runs, or several do. why: one sentence."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


def find(asked: str, folder: Path) -> Path:
    """The file of the recording that is meant.

    asked: a path, a name in the folder, a part of a name or title that only one cook has (whatever its capitals), or
    ``latest``. Raises RecordingError where there is none, ManyCooksError where there are several.
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
    # A text with the suffix and a folder was meant as a path.
    if path.suffix != SUFFIX or path.name == asked:
        path = folder / f"{asked.removesuffix(SUFFIX)}{SUFFIX}"
    if path.is_file():
        return path
    found = (
        single_match(asked, {one.stem: one for one in paths}) if asked.strip() and Path(asked).name == asked else None
    )
    if found is None:
        found = _by_title(asked, paths)
    if found is None:
        raise RecordingError(path, "there is no such file")
    return found


def single_match(asked: str, named: dict[str, Path]) -> Path | None:
    """The path of the only name that has this part, whatever its capitals; None for none. Raises ManyCooksError."""
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
