"""Sees to it that a rig has one logger, so that no reading is stored twice."""

import os
from contextlib import suppress
from pathlib import Path
from threading import Event
from types import TracebackType

from monitor.logger.state_file import StateFile
from monitor.runtime import MonitorError, is_same_file, try_lock
from monitor.storage import errors_named, lock_path, read_notes, write_notes

# A logger that was told to stop needs a moment to end.
WAIT_S = 6.0
_RETRY_S = 0.1


class SecondLoggerError(MonitorError):
    """Another logger records this cooker. rig: the cooker's name. folder: of the recordings."""

    def __init__(self, rig: str, folder: Path) -> None:
        self.rig = rig
        self.folder = folder
        super().__init__(f"Another logger already records the cooker {rig} in {folder}.")


class LoggerLock:
    """The two locks of one logger, which the system takes away from a process that ends, however it ends.

    One is in the folder, for whoever shares it, and holds notes on which port and which cook are this logger's; the
    other, ``state_file``, is on this machine and holds while the folder is away. away: whether the folder is away at
    the start; then it is not made, and ``renew`` takes its lock once it is back.
    Raises SecondLoggerError, and RecordingError when the folder cannot be written.
    """

    def __init__(self, folder: Path, rig: str, stop: Event, *, away: bool = False) -> None:
        self._folder = folder
        self._rig = rig
        self._stop = stop
        self._away = away
        self._path = lock_path(folder, rig)
        self._file: int | None = None
        self._notes: tuple[str | None, str | None] = (None, None)
        self.state_file = StateFile(folder, rig)

    def __enter__(self) -> "LoggerLock":
        if not self._away:
            with errors_named(self._folder):
                self._folder.mkdir(parents=True, exist_ok=True)
        for _ in range(round(WAIT_S / _RETRY_S)):
            if self._try():
                return self
            if self._stop.wait(_RETRY_S):
                break
        self._close()
        raise SecondLoggerError(self._rig, self._folder)

    def _try(self) -> bool:
        if not self.state_file.lock():
            return False
        if self._away:
            return True
        with errors_named(self._folder):
            self._file = try_lock(self._path)
        if self._file is None:
            return False
        # The port in the notes was that of the logger before; its cook is the one to go on with.
        self._notes = (None, read_notes(self._file)[1])
        self._write()
        return True

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._close()

    def note(self, port: str | None, cook: str | None = None) -> None:
        """Notes the port that readings come from and the cook's file; None leaves the cook as it was.

        A note that cannot be written is left out: it may not cost a reading.
        """
        notes = (port, cook or self._notes[1])
        if notes != self._notes:
            self._notes = notes
            self._write()

    def renew(self) -> None:
        """Takes the lock in the folder anew where its file is another than the one locked: the disk was away."""
        if self._file is not None and is_same_file(self._file, self._path):
            return
        with suppress(OSError):
            descriptor = try_lock(self._path)
            if descriptor is not None:
                if self._file is not None:
                    os.close(self._file)
                self._file = descriptor
                self._write()

    def _write(self) -> None:
        if self._file is not None:
            with suppress(OSError):
                write_notes(self._file, *self._notes)

    def _close(self) -> None:
        if self._file is not None:
            os.close(self._file)
            self._file = None
        self.state_file.close()
