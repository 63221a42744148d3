"""A folder that was there: told from one that is away for a while, and from another that stands in its place."""

import os
import stat
from pathlib import Path

from monitor.runtime import FileIdentity
from monitor.storage.errors import RecordingError


class FolderAwayError(RecordingError):
    """The folder of recordings is not where it was, or another stands there. path: the recording wanted in it."""

    def __init__(self, path: Path) -> None:
        name = path.parent.absolute().name
        super().__init__(path, f"the recordings folder {name} is away; put its disk or share back")
        # It is about no single recording.
        self.args = (f"The recordings folder {name} is away; put its disk or share back.",)


class WatchedFolder:
    """A folder as it was when it was last seen. known: its identity, None before that.

    A mount point has another identity while nothing is mounted there.
    """

    def __init__(self, folder: Path, known: FileIdentity | None = None) -> None:
        self.folder = folder
        self.known = known if known is not None else self._look(None)[0]

    def is_away(self, name: str | None = None) -> bool:
        """Whether the folder of before is not there now.

        name: of a file in it. Where that is found the folder is back, whatever disk it is on now; where it is not, a
        folder that is the very one of before has lost the file, and is not away.
        """
        identity, there = self._look(name)
        if there or (identity is not None and self.known is None):
            self.known = identity
            return False
        return self.known is not None and (identity != self.known or there is None)

    def settle(self) -> None:
        """Takes the folder that stands there now for the one to know, when nothing is missed of the one before."""
        identity, _ = self._look(None)
        if identity is not None:
            self.known = identity

    def _look(self, name: str | None) -> tuple[FileIdentity | None, bool | None]:
        """The folder's identity, and whether the file is in it; None for what cannot be told.

        Both are asked of one descriptor, so that no folder is exchanged between the two questions.
        """
        try:
            number = os.open(self.folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        except OSError:
            return None, False
        try:
            about = os.fstat(number)
            return (about.st_dev, about.st_ino), name is not None and _is_in(number, name)
        except OSError:
            return None, None
        finally:
            os.close(number)


def _is_in(folder: int, name: str) -> bool:
    try:
        return stat.S_ISREG(os.stat(name, dir_fd=folder).st_mode)
    except FileNotFoundError:
        return False
