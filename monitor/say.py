"""What the program says to the person who started it: one line each, on standard error."""

import io
import os
import select
import sys
from contextlib import suppress
from enum import Enum
from typing import Protocol, TextIO


class Level(Enum):
    """How much it matters. The value is syslog's severity (RFC 5424 section 6.2.1), which the journal reads."""

    NOTE = 6
    WARNING = 4
    ERROR = 3


class Say(Protocol):
    """Says one sentence."""

    def __call__(self, text: str, level: Level = Level.NOTE, /) -> None: ...


class Voice:
    """Says sentences in the name of one part of the program."""

    def __init__(self, name: str, stream: TextIO | None = None) -> None:
        self._name = name
        self._stream = stream

    def __call__(self, text: str, level: Level = Level.NOTE, /) -> None:
        mark = "" if level is Level.NOTE else f" {level.name.lower()}"
        # systemd sets this where standard error is the journal; it then takes the level from the prefix.
        prefix = f"<{level.value}>" if os.environ.get("JOURNAL_STREAM") else ""
        stream = self._stream or sys.stderr
        # A terminal that was closed or stopped (Ctrl-S) must neither end nor hold up the logger.
        with suppress(OSError, ValueError):
            if _takes_more(stream):
                print(f"{prefix}{self._name}{mark}: {text}", file=stream, flush=True)


def _takes_more(stream: TextIO) -> bool:
    try:
        _, ready, _ = select.select([], [stream.fileno()], [], 0.0)
    except io.UnsupportedOperation:
        return True
    return bool(ready)
