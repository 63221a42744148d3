"""Batch sheets that are kept in a recordings folder for cooks to come, one file each in its folder ``sheets``."""

import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from monitor.formulation import SheetError, read_sheet, sheet_text
from monitor.model import Batch
from monitor.runtime import MonitorError, locked, read_bounded, write_atomically

SHEETS = "sheets"
SHEET_SUFFIX = ".toml"
MOST_SHEET_BYTES = 65_536
LONGEST_NAME = 60


class KeptSheetError(MonitorError):
    """A kept sheet cannot be read or written. name: of the sheet; why: one clause."""

    exit_status = 2

    def __init__(self, name: str, why: str) -> None:
        self.name = name
        self.why = why
        super().__init__(f"The sheet {name!r}: {why}.")


@dataclass(frozen=True, slots=True)
class KeptSheet:
    """A sheet of the folder. name: as it is asked for; batch: what it says, None where it cannot be read; why not."""

    name: str
    path: Path
    batch: Batch | None
    why: str = ""


def sheet_name(title: str) -> str:
    """The name that a sheet of this title gets: lower case, words joined by hyphens.

    >>> sheet_name("Brush soap, second try"), sheet_name("Öl & Salz")
    ('brush-soap-second-try', 'ol-salz')
    """
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain)[:LONGEST_NAME].strip("-") or "batch"


def keep_sheet(folder: Path, batch: Batch, name: str = "", *, replace: bool = False) -> Path:
    """Keeps the sheet of a batch and returns its file.

    folder: of the recordings, which must be there. name: of the sheet, from the batch's title where empty. replace:
    whether a sheet of that name may be written over. Raises KeptSheetError.
    """
    name = sheet_name(name or batch.title)
    if not folder.is_dir():
        raise KeptSheetError(name, f"there is no folder {folder} to keep it in")
    path = _path(folder, name)
    try:
        path.parent.mkdir(exist_ok=True)
        with locked(path.parent / ".lock"):
            if path.exists() and not replace:
                raise KeptSheetError(name, "one of that name is kept already; choose another name, or replace it")
            write_atomically(path, sheet_text(batch).encode(), 0o644)
    except OSError as error:
        raise KeptSheetError(name, _reason(error)) from None
    return path


def read_kept_sheet(folder: Path, name: str) -> Batch:
    """The batch of the sheet of this name. Raises KeptSheetError, SheetError."""
    if name != sheet_name(name):
        raise KeptSheetError(name, "there is none of that name")
    try:
        return read_sheet(read_bounded(_path(folder, name), MOST_SHEET_BYTES).decode())
    except FileNotFoundError:
        raise KeptSheetError(name, "there is none of that name") from None
    except OSError as error:
        raise KeptSheetError(name, _reason(error)) from None
    except UnicodeDecodeError:
        raise KeptSheetError(name, "it is not text in UTF-8") from None


def kept_sheet_path(folder: Path, name: str) -> Path | None:
    """The file of the kept sheet of this name; None where there is none."""
    path = _path(folder, name)
    return path if name == sheet_name(name) and path.is_file() else None


def kept_sheets(folder: Path) -> list[KeptSheet]:
    """The sheets that are kept in a recordings folder, by name; one that cannot be read says why."""
    found = []
    for path in sorted((folder / SHEETS).glob(f"*{SHEET_SUFFIX}")):
        try:
            found.append(KeptSheet(path.stem, path, read_kept_sheet(folder, path.stem)))
        except (KeptSheetError, SheetError) as error:
            found.append(KeptSheet(path.stem, path, None, str(error)))
    return found


def remove_sheet(folder: Path, name: str) -> None:
    """Removes a kept sheet. Raises KeptSheetError."""
    if name != sheet_name(name):
        raise KeptSheetError(name, "there is none of that name")
    try:
        _path(folder, name).unlink()
    except FileNotFoundError:
        raise KeptSheetError(name, "there is none of that name") from None
    except OSError as error:
        raise KeptSheetError(name, _reason(error)) from None


def _path(folder: Path, name: str) -> Path:
    return folder / SHEETS / f"{name}{SHEET_SUFFIX}"


def _reason(error: OSError) -> str:
    return (error.strerror or str(error)).lower()
