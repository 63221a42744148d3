"""Recognises the folder of recordings: whether it is there, away for a while, or replaced by another."""

import os
import stat
import sys
from pathlib import Path

from monitor.runtime import FileIdentity, file_identity, is_plain
from monitor.storage.connections import RecordingError


class FolderAwayError(RecordingError):
    """The folder of recordings is not where it was, or another stands there. path: the recording wanted in it."""

    def __init__(self, path: Path) -> None:
        name = path.parent.absolute().name
        super().__init__(path, f"the recordings folder {name} is away; put its disk or share back")
        # The sentence is about the folder, and not about one recording.
        self.args = (f"The recordings folder {name} is away; put its disk or share back.",)


class WatchedFolder:
    """A folder as it was when it was last seen. identity: tells it from any other folder; None before it was seen.

    A mount point has another identity while nothing is mounted there.
    """

    def __init__(self, path: Path, identity: FileIdentity | None = None) -> None:
        self.path = path
        self.identity = identity if identity is not None else self._look(None)[0]

    def is_away(self, name: str | None = None) -> bool:
        """Whether the folder of before is not there now.

        name: a file in it. Where the file is found the folder is back, whatever disk it is on now; where it is not, a
        folder that is the very one of before has lost the file, and is not away.
        """
        identity, has_file = self._look(name)
        if has_file or (identity is not None and self.identity is None):
            self.identity = identity
            return False
        return self.identity is not None and (identity != self.identity or has_file is None)

    def accept_current(self) -> None:
        """Takes the folder that stands there now for the one to watch; for when nothing of the one before is missed."""
        identity, _ = self._look(None)
        if identity is not None:
            self.identity = identity

    def _look(self, name: str | None) -> tuple[FileIdentity | None, bool | None]:
        """The folder's identity, and whether the file is in it; None for what cannot be told.

        Both are asked of one descriptor, so that no folder is exchanged between the two questions.
        """
        if sys.platform == "win32":
            return file_identity(self.path), name is not None and is_plain(self.path / name)
        try:
            descriptor = os.open(self.path, os.O_RDONLY | os.O_DIRECTORY)
        except OSError:
            return None, False
        try:
            status = os.fstat(descriptor)
            return (status.st_dev, status.st_ino), name is not None and _has_file(descriptor, name)
        except OSError:
            return None, None
        finally:
            os.close(descriptor)


def _has_file(folder: int, name: str) -> bool:
    try:
        return stat.S_ISREG(os.stat(name, dir_fd=folder).st_mode)
    except FileNotFoundError:
        return False
