"""Reports to the person who started the program: one line each, on standard error.

The logging package is not used, because most of this module is what it lacks: a report never waits for a terminal that
was stopped, and the journal gets its levels.
"""

import io
import os
import select
import sys
from contextlib import suppress
from enum import Enum
from typing import Protocol, TextIO


class Level(Enum):
    """How much a report matters. The value is syslog's severity (RFC 5424 section 6.2.1), which the journal reads."""

    NOTE = 6
    WARNING = 4
    ERROR = 3


class Report(Protocol):
    """Reports one sentence."""

    def __call__(self, text: str, level: Level = Level.NOTE, /) -> None: ...


class Reporter:
    """Reports sentences in the name of one part of the program."""

    def __init__(self, name: str, stream: TextIO | None = None) -> None:
        self._name = name
        self._stream = stream

    def __call__(self, text: str, level: Level = Level.NOTE, /) -> None:
        mark = "" if level is Level.NOTE else f" {level.name.lower()}"
        stream = self._stream or sys.stderr
        # The journal takes the level from the prefix and removes it from the text (sd-daemon(3)).
        prefix = f"<{level.value}>" if is_journal(stream) else ""
        # A terminal that was closed or stopped (Ctrl-S) must neither end nor hold up the logger.
        with suppress(OSError, ValueError):
            if _is_writable(stream):
                print(f"{prefix}{self._name}{mark}: {text}", file=stream, flush=True)


def print_line(text: str) -> None:
    """Prints a line on standard output; it is left out where the terminal was stopped or closed."""
    with suppress(OSError, ValueError):
        if _is_writable(sys.stdout):
            print(text, flush=True)


def is_journal(stream: TextIO) -> bool:
    """Whether this stream goes to systemd's journal (systemd.exec(5), JOURNAL_STREAM).

    Programs whose output was redirected inherit the variable, so the stream itself has to be the one that it names.
    """
    named = os.environ.get("JOURNAL_STREAM", "")
    try:
        file = os.fstat(stream.fileno())
    except (OSError, ValueError):
        return False
    return named == f"{file.st_dev}:{file.st_ino}"


def _is_writable(stream: TextIO) -> bool:
    # Windows waits for sockets alone, and its terminals are not stopped.
    if sys.platform == "win32":
        return True
    try:
        _, ready, _ = select.select([], [stream.fileno()], [], 0.0)
    except io.UnsupportedOperation:
        return True
    return bool(ready)
