"""Recordings made from something else: hidden until they are whole, however this process ends."""

import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from monitor.runtime import move_into_place, try_lock
from monitor.storage.connections import errors_named
from monitor.storage.schema import SUFFIX

_PREFIX = ".being-made-"
_LOCK = "lock"


@contextmanager
def building(folder: Path) -> Iterator[Path]:
    """A hidden folder in ``folder`` to make recordings in; at the end of the block each is moved into ``folder``.

    Where the block raises nothing is moved. What processes left behind that were ended on the way is deleted.
    Raises RecordingError.
    """
    with errors_named(folder):
        folder.mkdir(parents=True, exist_ok=True)
        _delete_abandoned(folder)
        space = folder / f"{_PREFIX}{secrets.token_hex(4)}"
        space.mkdir(mode=0o700)
        held = try_lock(space / _LOCK)
    try:
        yield space
        with errors_named(folder):
            for made in space.glob(f"*{SUFFIX}"):
                move_into_place(made, folder / made.name)
    finally:
        shutil.rmtree(space, ignore_errors=True)
        if held is not None:
            os.close(held)


def _delete_abandoned(folder: Path) -> None:
    for left in folder.glob(f"{_PREFIX}*"):
        with suppress(OSError):
            held = try_lock(left / _LOCK)
            if held is not None:
                shutil.rmtree(left, ignore_errors=True)
                os.close(held)
