"""What can be wrong with a recording, and SQLite's own errors in those terms."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from monitor.runtime import MonitorError


class RecordingError(MonitorError):
    """A recording that cannot be read or written.

    path: the file. why: one clause. damaged: whether the file itself is spoilt, so that trying again is of no use.
    """

    def __init__(self, path: Path, why: str, *, damaged: bool = False) -> None:
        self.path = path
        self.why = why
        self.damaged = damaged
        super().__init__(f"{path.name}: {why}.")


@contextmanager
def errors_named(path: Path) -> Iterator[None]:
    """Turns the errors of SQLite and of the system into a RecordingError about this file."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorname", "") or ""
        damaged = _is_no_text(error) or any(word in code for word in ("CORRUPT", "NOTADB", "INTERRUPT"))
        raise RecordingError(path, _why(path, error), damaged=damaged) from None
    except OSError as error:
        raise RecordingError(path, (error.strerror or str(error)).lower()) from None


@contextmanager
def damage_named(path: Path) -> Iterator[None]:
    """As ``errors_named``; values of a wrong type or range are damage too, because SQLite stores any type anywhere."""
    with errors_named(path):
        try:
            yield
        except (TypeError, ValueError, OverflowError):
            raise RecordingError(path, "it is damaged", damaged=True) from None


def _why(path: Path, error: sqlite3.Error) -> str:
    name = getattr(error, "sqlite_errorname", "") or ""
    if "NOTADB" in name or "not a database" in str(error):
        return "it is not a recording"
    if "FULL" in name:
        return "the disk is full"
    if "READONLY" in name:
        return "the folder or the file is read-only"
    if "CORRUPT" in name or "INTERRUPT" in name or _is_no_text(error):
        return "it is damaged"
    if "CANTOPEN" in name:
        if not path.parent.is_dir():
            return f"there is no folder {path.parent}"
        return "it cannot be opened; check the rights on its folder" if path.exists() else "there is no such file"
    if "BUSY" in name or "LOCKED" in name:
        return "it is held by another program"
    return str(error)


def _is_no_text(error: sqlite3.Error) -> bool:
    """Whether bytes that are no UTF-8 stand where a text belongs; Python's sqlite3 has no code of its own for that."""
    return "Could not decode to UTF-8" in str(error)
