"""The one place for locks between processes and for writing whole files, and for opening files that may be anything.

Whoever may write into a folder may put a link, a pipe or a device where a file is expected; none of these leads a
process astray or holds it up.
"""

import errno
import os
import secrets
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TypeAlias

from monitor.runtime.file_lock import lock_file, lock_is_held

# Device and inode number, which tell a file or folder from any other of this machine.
FileIdentity: TypeAlias = tuple[int, int]

# Windows lacks all but the last, which it alone has: there, bytes written to a file are otherwise not left as they are.
_NOFOLLOW = getattr(os, "O_NOFOLLOW", 0)
_NONBLOCK = getattr(os, "O_NONBLOCK", 0)
_DIRECTORY = getattr(os, "O_DIRECTORY", 0)
_BINARY = getattr(os, "O_BINARY", 0)


def try_lock(path: Path, mode: int = 0o644) -> int | None:
    """The descriptor of the lock file once this process holds its lock; None while another process does.

    The file is made where it is missing, with ``mode``. Closing the descriptor frees the lock.
    Raises OSError, also for a link or anything else but a plain file.
    """
    descriptor = _open_lock(path, mode)
    try:
        lock_file(descriptor, wait=False)
    except BlockingIOError:
        os.close(descriptor)
        return None
    except BaseException:
        os.close(descriptor)
        raise
    return descriptor


@contextmanager
def locked(path: Path, mode: int = 0o644) -> Iterator[None]:
    """Holds the lock of a lock file for the length of a block, and waits for it first. Raises OSError."""
    descriptor = _open_lock(path, mode)
    try:
        lock_file(descriptor, wait=True)
        yield
    finally:
        os.close(descriptor)


def is_locked(descriptor: int) -> bool:
    """Whether another process holds the lock of this open file.

    The file is to be closed soon, because the question itself takes a shared lock: one who asks for the lock meanwhile
    has to ask again.
    """
    return lock_is_held(descriptor)


def _open_lock(path: Path, mode: int) -> int:
    return _plain(_open(path, os.O_RDWR | os.O_CREAT | _NONBLOCK, mode), path)


def open_plain(path: Path, *, follow: bool = False) -> int:
    """The descriptor of a plain file, to read. A pipe or a device is refused and never waited for. Raises OSError.

    follow: whether a link may lead to it.
    """
    return _plain(_open(path, os.O_RDONLY | _NONBLOCK, follow=follow), path)


def _open(path: Path, flags: int, mode: int = 0, *, follow: bool = False) -> int:
    if follow:
        return os.open(path, flags | _BINARY, mode)
    if not _NOFOLLOW and path.is_symlink():
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP), str(path))
    return os.open(path, flags | _NOFOLLOW | _BINARY, mode)


def _plain(descriptor: int, path: Path) -> int:
    if stat.S_ISREG(os.fstat(descriptor).st_mode):
        return descriptor
    os.close(descriptor)
    raise OSError(errno.EINVAL, "it is no plain file", str(path))


def is_plain(path: Path) -> bool:
    """Whether there is a plain file, or a link to one; False for what cannot be told, such as a link to itself."""
    try:
        return stat.S_ISREG(path.stat().st_mode)
    except (OSError, ValueError):
        return False


def file_identity(path: Path) -> FileIdentity | None:
    """What tells the file at this path from any other, links followed; None where there is none."""
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_dev, status.st_ino


def is_same_file(descriptor: int, path: Path) -> bool:
    """Whether an open file is the one that has this name now. A link is never the same file."""
    try:
        now, opened = path.lstat(), os.fstat(descriptor)
    except OSError:
        return False
    return (now.st_dev, now.st_ino) == (opened.st_dev, opened.st_ino)


def read_bounded(path: Path, most_bytes: int) -> bytes:
    """The content of a plain file of at most ``most_bytes`` bytes. Raises OSError, also where it is longer."""
    with os.fdopen(open_plain(path), "rb") as file:
        content = file.read(most_bytes + 1)
    if len(content) > most_bytes:
        raise OSError(errno.EFBIG, f"it has more than {most_bytes} bytes", str(path))
    return content


def read_start(descriptor: int, most_bytes: int) -> bytes:
    """The first bytes of an open file. Raises OSError."""
    os.lseek(descriptor, 0, os.SEEK_SET)
    return os.read(descriptor, most_bytes)


def overwrite(descriptor: int, content: bytes) -> None:
    """Replaces the content of an open file, not atomically. Raises OSError."""
    os.ftruncate(descriptor, 0)
    os.lseek(descriptor, 0, os.SEEK_SET)
    os.write(descriptor, content)


def write_atomically(path: Path, content: bytes, mode: int = 0o600) -> None:
    """Replaces a file durably: a reader, or a loss of power, finds either the old content or all of the new.

    mode: the rights of the new file. Its folder must be there. Raises OSError.
    """
    fresh = path.with_name(f".{path.name}.{secrets.token_hex(4)}.new")
    descriptor = _open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(descriptor)
        move_into_place(fresh, path)
    except BaseException:
        fresh.unlink(missing_ok=True)
        raise


def move_into_place(made: Path, path: Path) -> None:
    """Gives a file its final name, durably; a file of that name is replaced. Raises OSError."""
    made.replace(path)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Makes the names in a folder outlive a loss of power, on systems and file systems that can."""
    if not _DIRECTORY:
        return
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY | _DIRECTORY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def append_line(path: Path, line: bytes) -> None:
    """Adds a line at the end of a file, durably; the file is made where it is missing. Raises OSError.

    line: without its LF. A last line without one, as a loss of power leaves it, is ended first.
    """
    descriptor = _open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o644, follow=True)
    try:
        size = os.lseek(descriptor, 0, os.SEEK_END)
        is_cut = size > 0 and os.lseek(descriptor, size - 1, os.SEEK_SET) >= 0 and os.read(descriptor, 1) != b"\n"
        os.write(descriptor, (b"\n" if is_cut else b"") + line + b"\n")
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
