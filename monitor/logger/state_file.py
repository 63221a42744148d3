"""What a logger keeps outside the folder of recordings: which cook is under way in it, and that only one logger runs.

A disk that is away takes the recording and the lock in it along. A logger that is started meanwhile reads here that a
cook waits on that disk, and does not begin another in what stands in its place.
"""

import hashlib
import json
import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from monitor.runtime import Anchor, FileIdentity, is_same_file, overwrite, read_bounded, try_lock

MOST_BYTES = 16_384


@dataclass(frozen=True, slots=True)
class CookState:
    """The cook under way. cook: the recording's file name. folder: tells the folder that it is in from any other.

    anchor: a moment at which the cook was still going on, in both times.
    """

    cook: str
    folder: FileIdentity
    anchor: Anchor


def state_folder() -> Path:
    """Where this machine keeps the state of programs: systemd.exec(5) StateDirectory, else the XDG base folders."""
    given = os.environ.get("STATE_DIRECTORY", "").split(":")[0]
    if given:
        return Path(given)
    base = os.environ.get("XDG_STATE_HOME", "")
    return (Path(base) if base.startswith("/") else Path.home() / ".local" / "state") / "kettleside"


class StateFile:
    """The state file of one rig in one folder, which is also a lock on this machine.

    Where it cannot be written nothing is kept: that costs no reading.
    """

    def __init__(self, folder: Path, rig: str) -> None:
        digest = hashlib.sha256(f"{folder.absolute()}\n{rig}".encode("utf-8", "surrogateescape")).hexdigest()[:24]
        self._path = state_folder() / f"logger-{digest}"
        self._file: int | None = None

    def lock(self) -> bool:
        """Takes the lock; False where another logger of this machine records this rig into this folder.

        True also where the file cannot be made.
        """
        while self._file is None:
            try:
                self._path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
                descriptor = try_lock(self._path)
                if descriptor is None:
                    return False
            except OSError:
                return True
            # The logger before may have deleted the file between the opening and the locking.
            if is_same_file(descriptor, self._path):
                self._file = descriptor
            else:
                os.close(descriptor)
        return True

    def read(self) -> CookState | None:
        """The cook that was under way when the file was last written, or None."""
        try:
            fields = json.loads(read_bounded(self._path, MOST_BYTES))
            device, inode = fields["folder"]
            cook = str(fields["cook"])
            anchor = Anchor.from_text(fields["anchor"])
            return None if "/" in cook else CookState(cook, (int(device), int(inode)), anchor)
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            return None

    def write(self, state: CookState | None) -> None:
        """Replaces the content; None when no cook is under way any more. Does nothing without the lock."""
        if self._file is None:
            return
        fields = {"cook": state.cook, "folder": state.folder, "anchor": state.anchor.as_text()} if state else {}
        with suppress(OSError):
            overwrite(self._file, json.dumps(fields).encode())

    def forget(self) -> None:
        """Has the next logger begin anew. Nothing changes while one is at work."""
        if self.lock():
            self.write(None)
            self.close()

    def close(self) -> None:
        """Frees the lock, and deletes the file where no cook is under way."""
        if self._file is None:
            return
        if self.read() is None and is_same_file(self._file, self._path):
            with suppress(OSError):
                self._path.unlink()
        os.close(self._file)
        self._file = None
