"""The log of calibrations beside the recordings: one line of JSON each, added at the end and never changed."""

from pathlib import Path

from monitor.probes import (
    CalibrationRecord,
    CalibrationRecords,
    Retraction,
    from_json,
    records_from,
    to_json,
    validated,
)
from monitor.runtime import MonitorError, append_line
from monitor.storage.folder import WatchedFolder

FILE = "calibrations.jsonl"
# A calibration takes a few hundred bytes, so a longer file is no log of calibrations.
MOST_BYTES = 8_000_000


class CalibrationError(MonitorError):
    """Calibrations that cannot be read or written. path: the file; why: one clause."""

    def __init__(self, path: Path, why: str) -> None:
        self.path = path
        self.why = why
        super().__init__(f"The calibrations in {path} cannot be used: {why}.")


class CalibrationLog:
    """The calibrations of a folder of recordings; the file is read again only when it has changed.

    unread: how many lines are no calibration, such as one cut short by a loss of power; they are passed over.
    trouble: one sentence why the file could not be read the last time, or None; the calibrations known before go on.
    """

    def __init__(self, folder: Path) -> None:
        self.path = folder / FILE
        self._folder = WatchedFolder(folder)
        self.unread = 0
        self.trouble: str | None = None
        self._version: tuple[int, int] | None = None
        self._records = CalibrationRecords()

    def facts(self) -> CalibrationRecords:
        """Every calibration known here. Never raises, because a cook goes on without them: see ``trouble``."""
        try:
            self._refresh()
            self.trouble = None
        except CalibrationError as error:
            self.trouble = str(error)
        return self._records

    def _refresh(self) -> None:
        try:
            status = self.path.stat()
            version = (status.st_mtime_ns, status.st_size)
            if version == self._version:
                return
            if status.st_size > MOST_BYTES:
                raise CalibrationError(self.path, f"it has more than {MOST_BYTES} bytes")
            text = self.path.read_text(encoding="utf-8", errors="replace")
        except FileNotFoundError:
            if self._version is not None and self._folder.is_away():
                raise CalibrationError(self.path, "its folder is away") from None
            if self._version is not None:
                self._version, self.unread, self._records = None, 0, CalibrationRecords()
            return
        except OSError as error:
            raise CalibrationError(self.path, (error.strerror or str(error)).lower()) from None
        entries: list[CalibrationRecord | Retraction] = []
        self.unread = 0
        for line in text.split("\n"):
            try:
                if line.strip():
                    entries.append(from_json(line))
            except ValueError:
                self.unread += 1
        self._version, self._records = version, records_from(entries)

    def add(self, entry: CalibrationRecord | Retraction) -> None:
        """Adds a calibration, or the retraction of one, durably.

        Raises CalibrationError when the file cannot be written, ValueError with one sentence for a wrong entry.
        """
        line = to_json(entry if isinstance(entry, Retraction) else validated(entry)).encode()
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            append_line(self.path, line)
        except OSError as error:
            raise CalibrationError(self.path, (error.strerror or str(error)).lower()) from None
