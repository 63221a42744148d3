"""Opening files that may be anything: lock files that no link leads astray, and readable files that do end.

Whoever may write into a folder may put a link, a pipe or a device where a file is expected.
"""

import errno
import os
import secrets
import stat
from pathlib import Path


def open_lock(path: Path, mode: int = 0o644) -> int:
    """The descriptor of a lock file, made where it is missing; a link or anything but a plain file is refused.

    Raises OSError.
    """
    number = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW | os.O_NONBLOCK, mode)
    return _plain(number, path)


def open_plain(path: Path, *, follow: bool = False) -> int:
    """The descriptor of a plain file, to read. A pipe or a device is refused and never waited for. Raises OSError.

    follow: whether a link may lead to it.
    """
    number = os.open(path, os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK | (0 if follow else os.O_NOFOLLOW))
    return _plain(number, path)


def _plain(number: int, path: Path) -> int:
    if stat.S_ISREG(os.fstat(number).st_mode):
        return number
    os.close(number)
    raise OSError(errno.EINVAL, "it is no plain file", str(path))


def same_file(number: int, path: Path) -> bool:
    """Whether an open file is the one that has this name now."""
    try:
        now, opened = path.lstat(), os.fstat(number)
    except OSError:
        return False
    return (now.st_dev, now.st_ino) == (opened.st_dev, opened.st_ino)


def is_plain(path: Path) -> bool:
    """Whether there is a plain file, or a link to one; False for what cannot be told, such as a link to itself."""
    try:
        return stat.S_ISREG(path.stat().st_mode)
    except (OSError, ValueError):
        return False


def read_bounded(path: Path, most_bytes: int) -> bytes:
    """What a plain file holds. Raises OSError, also where it is longer."""
    with os.fdopen(open_plain(path), "rb") as file:
        content = file.read(most_bytes + 1)
    if len(content) > most_bytes:
        raise OSError(errno.EFBIG, f"it has more than {most_bytes} bytes", str(path))
    return content


def put_whole(path: Path, content: bytes, mode: int = 0o600) -> None:
    """Puts a file in the place of ``path``, durably, all of it or nothing. Its folder must be there. Raises OSError."""
    fresh = path.with_name(f".{path.name}.{secrets.token_hex(4)}.new")
    number = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC | os.O_NOFOLLOW, mode)
    try:
        with os.fdopen(number, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(number)
        fresh.replace(path)
    except BaseException:
        fresh.unlink(missing_ok=True)
        raise
