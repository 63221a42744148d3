"""Sees to it that a cooker has one logger, whose readings nobody stores twice."""

import fcntl
import os
import re
from contextlib import suppress
from pathlib import Path
from threading import Event
from types import TracebackType

from monitor.errors import MonitorError
from monitor.recording import errors_named

# One that was told to stop needs a moment to go.
WAIT_S = 6.0
_STEP_S = 0.1


class SecondLoggerError(MonitorError):
    """Another logger records this cooker. rig: the cooker's name. folder: of the recordings."""

    def __init__(self, rig: str, folder: Path) -> None:
        self.rig = rig
        self.folder = folder
        super().__init__(f"Another logger already records the cooker {rig} in {folder}.")


class OnlyLogger:
    """A lock that the system takes away from a process that dies, whatever it dies of.

    In the lock stands the serial port that the logger hears readings from, for whoever would ring the rig's buzzer.
    Raises SecondLoggerError, and RecordingError when the folder cannot be written.
    """

    def __init__(self, folder: Path, rig: str, stop: Event) -> None:
        self._folder = folder
        self._rig = rig
        self._stop = stop
        self._file: int | None = None
        self._noted: str | None = None

    def __enter__(self) -> "OnlyLogger":
        with errors_named(self._folder):
            self._folder.mkdir(parents=True, exist_ok=True)
            name = re.sub(r"[^\w-]", "_", self._rig)
            self._file = os.open(self._folder / f".logger-{name}.lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        for _ in range(round(WAIT_S / _STEP_S)):
            try:
                fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                if self._stop.wait(_STEP_S):
                    break
            else:
                # Of the one before.
                self._write("")
                return self
        self._close()
        raise SecondLoggerError(self._rig, self._folder)

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._close()

    def note(self, port: str | None) -> None:
        """Notes the port that readings come from now. What cannot be written is left out: it may not cost a reading."""
        if port != self._noted:
            self._noted = port
            self._write(port or "")

    def _write(self, text: str) -> None:
        if self._file is None:
            return
        with suppress(OSError):
            os.ftruncate(self._file, 0)
            os.pwrite(self._file, os.fsencode(text), 0)

    def _close(self) -> None:
        if self._file is not None:
            os.close(self._file)
            self._file = None
