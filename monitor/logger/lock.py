"""Sees to it that a cooker has one logger, whose readings nobody stores twice."""

import os
from contextlib import suppress
from pathlib import Path
from threading import Event
from types import TracebackType

from monitor.logger.state_file import StateFile
from monitor.runtime import MonitorError, is_same_file, try_lock
from monitor.storage import errors_named, lock_path, read_notes, write_notes

# One that was told to stop needs a moment to go.
WAIT_S = 6.0
_STEP_S = 0.1


class SecondLoggerError(MonitorError):
    """Another logger records this cooker. rig: the cooker's name. folder: of the recordings."""

    def __init__(self, rig: str, folder: Path) -> None:
        self.rig = rig
        self.folder = folder
        super().__init__(f"Another logger already records the cooker {rig} in {folder}.")


class LoggerLock:
    """Two locks that the system takes away from a process that dies, whatever it dies of.

    One is in the folder, for whoever shares it, and says which port and which cook are this logger's; the other is on
    this machine (``whereabouts``) and holds while the folder is away. away: whether it is away at the start; then it
    is not made, and its lock is taken by ``renew`` once it is back.
    Raises SecondLoggerError, and RecordingError when the folder cannot be written.
    """

    def __init__(self, folder: Path, rig: str, stop: Event, *, away: bool = False) -> None:
        self._folder = folder
        self._rig = rig
        self._stop = stop
        self._away = away
        self._path = lock_path(folder, rig)
        self._file: int | None = None
        self._noted: tuple[str | None, str | None] = (None, None)
        self.whereabouts = StateFile(folder, rig)

    def __enter__(self) -> "LoggerLock":
        if not self._away:
            with errors_named(self._folder):
                self._folder.mkdir(parents=True, exist_ok=True)
        for _ in range(round(WAIT_S / _STEP_S)):
            if self._take():
                return self
            if self._stop.wait(_STEP_S):
                break
        self._close()
        raise SecondLoggerError(self._rig, self._folder)

    def _take(self) -> bool:
        if not self.whereabouts.take():
            return False
        if self._away:
            return True
        with errors_named(self._folder):
            self._file = try_lock(self._path)
        if self._file is None:
            return False
        # The port is of the one before; its cook is what there is to go on with.
        self._noted = (None, read_notes(self._file)[1])
        self._write()
        return True

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._close()

    def note(self, port: str | None, cook: str | None = None) -> None:
        """Notes the port that readings come from and the cook's file; None leaves the cook as it was.

        What cannot be written is left out: it may not cost a reading.
        """
        now = (port, cook or self._noted[1])
        if now != self._noted:
            self._noted = now
            self._write()

    def renew(self) -> None:
        """Takes the lock in the folder anew where it is not the file that this holds: its disk was away."""
        if self._file is not None and is_same_file(self._file, self._path):
            return
        with suppress(OSError):
            fresh = try_lock(self._path)
            if fresh is not None:
                if self._file is not None:
                    os.close(self._file)
                self._file = fresh
                self._write()

    def _write(self) -> None:
        if self._file is not None:
            with suppress(OSError):
                write_notes(self._file, *self._noted)

    def _close(self) -> None:
        if self._file is not None:
            os.close(self._file)
            self._file = None
        self.whereabouts.close()
