"""The notices' files of a folder: settings, what went out so far, and the lock that lets one process notify.

All of them stand in the folder's ``.kettleside``, which is its owner's alone.
"""

import json
import math
import os
import stat
from pathlib import Path
from types import TracebackType

from monitor.notifications.repeat import NotificationState
from monitor.notifications.settings import NoticeSettings, read_notice_settings
from monitor.runtime import MonitorError, read_bounded, try_lock, write_atomically
from monitor.storage import as_file_name, logger_status

PLACE = ".kettleside"
SETTINGS_FILE = "notices.toml"
MOST_BYTES = 100_000


class NoticeFileError(MonitorError):
    """A file of the notices cannot be used. path: of the file. why: one clause, which may end in how to mend it."""

    def __init__(self, path: Path, why: str) -> None:
        self.path = path
        self.why = why
        super().__init__(f"The file {path} cannot be used: {why}.")


def settings_path(folder: Path) -> Path:
    """The path of the settings of a folder of recordings."""
    return folder / PLACE / SETTINGS_FILE


def load_notice_settings(folder: Path) -> NoticeSettings:
    """The settings of a folder of recordings; the default ones where there is no file.

    Raises NoticeFileError for a file that others may read or that cannot be read, NoticeSettingsError for a wrong one.
    """
    return read_notice_settings(read_settings_text(folder))


def read_settings_text(folder: Path) -> str:
    """The text of the settings file; empty where there is none. Raises NoticeFileError."""
    path = settings_path(folder)
    try:
        # Asked of the open file, so that nobody exchanges it in between.
        with path.open("rb") as file:
            mode = os.fstat(file.fileno()).st_mode
            if not stat.S_ISREG(mode):
                raise NoticeFileError(path, "it is no plain file")
            if mode & 0o077:
                raise NoticeFileError(path, f"it may hold passwords and others may read it; type: chmod 600 '{path}'")
            text = file.read(MOST_BYTES + 1).decode()
    except FileNotFoundError:
        return ""
    except OSError as error:
        raise NoticeFileError(path, (error.strerror or "it cannot be read").lower()) from None
    except UnicodeDecodeError:
        raise NoticeFileError(path, "it is not UTF-8") from None
    if len(text) > MOST_BYTES:
        raise NoticeFileError(path, f"it has more than {MOST_BYTES} characters")
    return text


def write_settings_text(folder: Path, text: str) -> None:
    """Replaces the settings, once they are found to be right. Raises NoticeFileError, NoticeSettingsError."""
    read_notice_settings(text)
    path = settings_path(folder)
    try:
        make_place(folder)
        write_atomically(path, text.encode())
    except OSError as error:
        raise NoticeFileError(path, (error.strerror or str(error)).lower()) from None


def settings_stamp(folder: Path) -> tuple[int, int, int] | None:
    """A stamp that changes when the settings do; None while there are none."""
    try:
        status = settings_path(folder).stat()
    except OSError:
        return None
    return status.st_mtime_ns, status.st_size, status.st_mode


def _own_file(folder: Path, rig: str, ending: str) -> Path:
    return folder / PLACE / f"{as_file_name(rig)}.{ending}"


def make_place(folder: Path) -> None:
    """Makes the place of these files in a folder of recordings, which itself is never made. Raises OSError."""
    place = folder / PLACE
    if not place.is_dir():
        place.mkdir(exist_ok=True)
        place.chmod(0o700)


def load_states(folder: Path, rig: str, cook: str) -> dict[str, NotificationState]:
    """The states of this cook of this rig, by name; empty where they are not known."""
    try:
        saved = json.loads(read_bounded(_own_file(folder, rig, "told"), MOST_BYTES))
        if saved["cook"] != cook:
            return {}
        return {str(name): _state(fields) for name, fields in saved["told"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def _state(fields: object) -> NotificationState:
    if not isinstance(fields, list) or len(fields) != 3:
        raise ValueError("three fields are wanted")
    count, last, gone = int(fields[0]), float(fields[1]), None if fields[2] is None else float(fields[2])
    if count < 0 or not math.isfinite(last) or (gone is not None and not math.isfinite(gone)):
        raise ValueError("no such moment")
    return NotificationState(count, last, gone)


def save_states(folder: Path, rig: str, cook: str, states: dict[str, NotificationState]) -> None:
    """Saves the states, durably and all at once. Raises NoticeFileError."""
    path = _own_file(folder, rig, "told")
    fields = {name: [state.count, state.last, state.gone] for name, state in states.items()}
    try:
        # The folder itself is never made: its disk may be away.
        make_place(folder)
        write_atomically(path, json.dumps({"cook": cook, "told": fields}).encode())
    except OSError as error:
        raise NoticeFileError(path, (error.strerror or str(error)).lower()) from None


def load_announced(folder: Path, rig: str) -> frozenset[tuple[str, str]]:
    """Where home-automation platforms find this rig: each broker's address with the topic of the configuration."""
    try:
        saved = json.loads(read_bounded(_own_file(folder, rig, "announced"), MOST_BYTES))
        return frozenset((str(broker), str(topic)) for broker, topic in saved)
    except (OSError, ValueError, TypeError, RecursionError):
        return frozenset()


def save_announced(folder: Path, rig: str, announced: frozenset[tuple[str, str]]) -> None:
    """Saves where, so that a later process can withdraw it too. Raises NoticeFileError."""
    path = _own_file(folder, rig, "announced")
    try:
        if announced:
            make_place(folder)
            write_atomically(path, json.dumps(sorted(announced)).encode())
        else:
            path.unlink(missing_ok=True)
    except OSError as error:
        raise NoticeFileError(path, (error.strerror or str(error)).lower()) from None


class NotifierLock:
    """The lock of the process that notifies for one rig; the system releases it when the process dies."""

    def __init__(self, folder: Path, rig: str) -> None:
        self._folder = folder
        self._path = _own_file(folder, rig, "telling")
        self._file: int | None = None

    def acquire(self) -> bool:
        """Whether this process holds the lock now; may be called again. Raises NoticeFileError."""
        if self._file is not None:
            return True
        try:
            make_place(self._folder)
            self._file = try_lock(self._path, 0o600)
        except OSError as error:
            raise NoticeFileError(self._path, (error.strerror or str(error)).lower()) from None
        return self._file is not None

    def __enter__(self) -> "NotifierLock":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.release()

    def release(self) -> None:
        """Lets another process notify."""
        if self._file is not None:
            os.close(self._file)
            self._file = None


def logger_runs(folder: Path, rig: str) -> bool:
    """Whether a logger of this rig is at work, which is to say that it holds the logger's lock."""
    return logger_status(folder, rig).running


def logger_port(folder: Path, rig: str) -> str | None:
    """The serial port from which the logger of this rig reads now, or None."""
    return logger_status(folder, rig).port
