"""Calibrations kept beside the recordings: one line of JSON each, added at the end and never changed."""

from pathlib import Path

from monitor.probes import CalibrationRecord, CalibrationRecords, Retraction, checked, from_json, records_from, to_json
from monitor.runtime import MonitorError, append_line
from monitor.storage.folder import WatchedFolder

FILE = "calibrations.jsonl"
# A calibration is a few hundred bytes; nobody makes this many.
MOST_BYTES = 8_000_000


class CalibrationError(MonitorError):
    """Calibrations that cannot be read or written. path: the file; why: one clause."""

    def __init__(self, path: Path, why: str) -> None:
        self.path = path
        self.why = why
        super().__init__(f"The calibrations in {path} cannot be used: {why}.")


class CalibrationLog:
    """The calibrations of a folder of recordings; read again only when the file has changed.

    unread: lines that are no calibration, such as one cut short by a power failure; they are passed over.
    trouble: one sentence why the file could not be read at the last look, or None; what was known before goes on.
    """

    def __init__(self, folder: Path) -> None:
        self.path = folder / FILE
        self._place = WatchedFolder(folder)
        self.unread = 0
        self.trouble: str | None = None
        self._stamp: tuple[int, int] | None = None
        self._facts = CalibrationRecords()

    def facts(self) -> CalibrationRecords:
        """Every calibration known here. Never raises, because a cook goes on without: see ``trouble``."""
        try:
            self._look()
            self.trouble = None
        except CalibrationError as error:
            self.trouble = str(error)
        return self._facts

    def _look(self) -> None:
        try:
            status = self.path.stat()
            stamp = (status.st_mtime_ns, status.st_size)
            if stamp == self._stamp:
                return
            if status.st_size > MOST_BYTES:
                raise CalibrationError(self.path, f"it has more than {MOST_BYTES} bytes")
            text = self.path.read_text(encoding="utf-8", errors="replace")
        except FileNotFoundError:
            if self._stamp is not None and self._place.is_away():
                raise CalibrationError(self.path, "its folder is away") from None
            self._stamp, self.unread, self._facts = None, 0, CalibrationRecords()
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
        self._stamp, self._facts = stamp, records_from(entries)

    def add(self, entry: CalibrationRecord | Retraction) -> None:
        """Adds one, durably.

        Raises CalibrationError when it cannot be written, ValueError with one sentence when it makes no sense.
        """
        line = to_json(entry if isinstance(entry, Retraction) else checked(entry)).encode()
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            append_line(self.path, line)
        except OSError as error:
            raise CalibrationError(self.path, (error.strerror or str(error)).lower()) from None
