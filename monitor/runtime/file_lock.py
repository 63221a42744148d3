"""The lock of an open file, which the system takes away from a process that ends, however it ends.

flock(2), and on Windows, which has none, the lock of one byte.
"""

import os
import sys
from threading import Event

if sys.platform == "win32":
    import msvcrt

    # Beyond the end of every lock file, because Windows lets nobody else read a byte that is locked.
    _AT = 0x7FFF0000
    _AGAIN_AFTER_S = 0.05

    def lock_file(descriptor: int, *, wait: bool) -> None:
        """Takes the lock of an open file. Raises BlockingIOError where it is held and not waited for."""
        while not _change(descriptor, msvcrt.LK_NBLCK):
            if not wait:
                raise BlockingIOError
            Event().wait(_AGAIN_AFTER_S)

    def lock_is_held(descriptor: int) -> bool:
        """Whether somebody else holds the lock of this open file."""
        if not _change(descriptor, msvcrt.LK_NBLCK):
            return True
        _change(descriptor, msvcrt.LK_UNLCK)
        return False

    def _change(descriptor: int, how: int) -> bool:
        before = os.lseek(descriptor, 0, os.SEEK_CUR)
        os.lseek(descriptor, _AT, os.SEEK_SET)
        try:
            msvcrt.locking(descriptor, how, 1)
        except PermissionError:
            return False
        finally:
            os.lseek(descriptor, before, os.SEEK_SET)
        return True

else:
    import fcntl

    def lock_file(descriptor: int, *, wait: bool) -> None:
        """Takes the lock of an open file. Raises BlockingIOError where it is held and not waited for."""
        fcntl.flock(descriptor, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))

    def lock_is_held(descriptor: int) -> bool:
        """Whether somebody else holds the lock of this open file; the question itself takes a shared lock."""
        try:
            fcntl.flock(descriptor, fcntl.LOCK_SH | fcntl.LOCK_NB)
        except OSError:
            return True
        return False
