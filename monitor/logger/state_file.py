"""What a logger keeps outside the folder of recordings: which cook is under way in it, and that only one logger runs.

A disk that is away takes the recording and the lock in it along. A logger that is started meanwhile learns from here
that a cook waits on that disk, and does not begin another in what stands in its place.
"""

import hashlib
import json
import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from monitor.runtime import Anchor, FileIdentity, is_locked, is_same_file, open_plain, read_bounded, try_lock

MOST_BYTES = 16_384


@dataclass(frozen=True, slots=True)
class CookState:
    """cook: the recording's file name. identity: of the folder it is in. anchor: when it was last known to go on."""

    cook: str
    identity: FileIdentity
    anchor: Anchor


def state_folder() -> Path:
    """Where this machine keeps what a program remembers: systemd.exec(5) StateDirectory, else the XDG base folders."""
    told = os.environ.get("STATE_DIRECTORY", "").split(":")[0]
    if told:
        return Path(told)
    base = os.environ.get("XDG_STATE_HOME", "")
    return (Path(base) if base.startswith("/") else Path.home() / ".local" / "state") / "kettleside"


class StateFile:
    """Of one rig in one folder. Where nothing can be kept nothing is: that costs no reading."""

    def __init__(self, folder: Path, rig: str) -> None:
        named = hashlib.sha256(f"{folder.absolute()}\n{rig}".encode("utf-8", "surrogateescape")).hexdigest()[:24]
        self._path = state_folder() / f"logger-{named}"
        self._file: int | None = None

    def take(self) -> bool:
        """Whether no other logger of this machine records this rig into this folder, be it there or away."""
        while self._file is None:
            try:
                self._path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
                number = try_lock(self._path)
                if number is None:
                    return False
            except OSError:
                return True
            # The one before may have taken the file away between the opening and the locking.
            if is_same_file(number, self._path):
                self._file = number
            else:
                os.close(number)
        return True

    def is_held(self) -> bool:
        """Whether a logger is at work, be the folder there or away."""
        try:
            number = open_plain(self._path)
        except OSError:
            return False
        try:
            return is_locked(number)
        finally:
            os.close(number)

    def read(self) -> CookState | None:
        """What was kept last, or None."""
        try:
            told = json.loads(read_bounded(self._path, MOST_BYTES))
            device, inode = told["folder"]
            cook = str(told["cook"])
            return None if "/" in cook else CookState(cook, (int(device), int(inode)), Anchor.from_text(told["anchor"]))
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            return None

    def keep(self, kept: CookState | None) -> None:
        """Keeps it in the place of what was kept, once ``take`` was; None when no cook is under way any more."""
        if self._file is None:
            return
        told = {"cook": kept.cook, "folder": kept.identity, "anchor": kept.anchor.as_text()} if kept else {}
        with suppress(OSError):
            os.ftruncate(self._file, 0)
            os.pwrite(self._file, json.dumps(told).encode(), 0)

    def forget(self) -> None:
        """Has the next logger begin anew. Nothing changes while one is at work."""
        if self.take():
            self.keep(None)
            self.close()

    def close(self) -> None:
        """Lets another logger have it; where no cook is under way nothing is left behind."""
        if self._file is None:
            return
        if self.read() is None and is_same_file(self._file, self._path):
            with suppress(OSError):
                self._path.unlink()
        os.close(self._file)
        self._file = None
