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


class Report(Protocol):
    """Says one sentence."""

    def __call__(self, text: str, level: Level = Level.NOTE, /) -> None: ...


class Reporter:
    """Says sentences in the name of one part of the program."""

    def __init__(self, name: str, stream: TextIO | None = None) -> None:
        self._name = name
        self._stream = stream

    def __call__(self, text: str, level: Level = Level.NOTE, /) -> None:
        mark = "" if level is Level.NOTE else f" {level.name.lower()}"
        stream = self._stream or sys.stderr
        # The journal takes the level from the prefix and leaves it out of the words (sd-daemon(3)).
        prefix = f"<{level.value}>" if is_journal(stream) else ""
        # A terminal that was closed or stopped (Ctrl-S) must neither end nor hold up the logger.
        with suppress(OSError, ValueError):
            if _takes_more(stream):
                print(f"{prefix}{self._name}{mark}: {text}", file=stream, flush=True)


def print_line(text: str) -> None:
    """One line on standard output; left out where a terminal was stopped or closed: nobody is to wait for it."""
    with suppress(OSError, ValueError):
        if _takes_more(sys.stdout):
            print(text, flush=True)


def is_journal(stream: TextIO) -> bool:
    """Whether what is written here goes to systemd's journal (systemd.exec(5), JOURNAL_STREAM).

    The variable is passed on to programs whose output was turned elsewhere, so the stream itself must be that one.
    """
    named = os.environ.get("JOURNAL_STREAM", "")
    try:
        file = os.fstat(stream.fileno())
    except (OSError, ValueError):
        return False
    return named == f"{file.st_dev}:{file.st_ino}"


def _takes_more(stream: TextIO) -> bool:
    try:
        _, ready, _ = select.select([], [stream.fileno()], [], 0.0)
    except io.UnsupportedOperation:
        return True
    return bool(ready)
