"""A recording that is made from something else: hidden until it is whole, whatever ends this process."""

import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from monitor.runtime import move_into_place, try_lock
from monitor.storage.errors import errors_named
from monitor.storage.schema import SUFFIX

_HIDDEN = ".being-made-"
_LOCK = "lock"


@contextmanager
def building(folder: Path) -> Iterator[Path]:
    """A hidden folder in ``folder`` to make recordings in, each moved out of it when all went well.

    What others who were ended before they were through left behind is taken away. Raises RecordingError.
    """
    with errors_named(folder):
        folder.mkdir(parents=True, exist_ok=True)
        _tidy(folder)
        space = folder / f"{_HIDDEN}{secrets.token_hex(4)}"
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


def _tidy(folder: Path) -> None:
    for left in folder.glob(f"{_HIDDEN}*"):
        with suppress(OSError):
            held = try_lock(left / _LOCK)
            if held is not None:
                shutil.rmtree(left, ignore_errors=True)
                os.close(held)
