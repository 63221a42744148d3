"""What is said: one line each, with levels that the journal reads, and never at the cost of the work."""

import io
import os
import pty
import sys
import termios
from pathlib import Path

import pytest

from monitor.runtime import Level, Reporter, print_line


def test_a_note_and_a_warning_are_one_line_each() -> None:
    stream = io.StringIO()
    say = Reporter("logger", stream)
    say("It records.")
    say("The disk is full.", Level.ERROR)
    assert stream.getvalue() == "logger: It records.\nlogger error: The disk is full.\n"


def test_lines_for_the_journal_carry_their_severity(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """RFC 5424 section 6.2.1: 3 error, 4 warning, 6 informational; systemd reads them in angle brackets."""
    with (tmp_path / "journal").open("w+") as stream:
        file = os.fstat(stream.fileno())
        monkeypatch.setenv("JOURNAL_STREAM", f"{file.st_dev}:{file.st_ino}")
        for level in Level:
            Reporter("logger", stream)("x", level)
        stream.seek(0)
        assert [line[:3] for line in stream] == ["<6>", "<4>", "<3>"]


def test_other_outputs_carry_no_severity_even_if_a_journal_is_announced(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("JOURNAL_STREAM", "8:1")
    reader, writer = os.pipe()
    for stream in (io.StringIO(), os.fdopen(writer, "w")):
        Reporter("logger", stream)("x")
        if isinstance(stream, io.StringIO):
            assert stream.getvalue() == "logger: x\n"
        stream.close()
    with os.fdopen(reader) as heard:
        assert heard.read() == "logger: x\n"


def test_a_stopped_terminal_does_not_block_the_program() -> None:
    reader, writer = pty.openpty()
    with os.fdopen(writer, "w") as stream:
        termios.tcflow(writer, termios.TCOOFF)
        Reporter("logger", stream)("Nobody can read this.")
        termios.tcflow(writer, termios.TCOON)
        Reporter("logger", stream)("Again.")
        assert os.read(reader, 4096).strip() == b"logger: Again."
    os.close(reader)


def test_a_notice_to_a_stopped_or_closed_terminal_does_not_block(monkeypatch: pytest.MonkeyPatch) -> None:
    reader, writer = pty.openpty()
    stream = os.fdopen(writer, "w")
    monkeypatch.setattr(sys, "stdout", stream)
    termios.tcflow(writer, termios.TCOOFF)
    print_line("Nobody can read this.")
    termios.tcflow(writer, termios.TCOON)
    print_line("stir due")
    assert os.read(reader, 4096).strip() == b"stir due"
    stream.close()
    print_line("Nobody is there.")
    os.close(reader)


def test_a_closed_terminal_does_not_end_the_program() -> None:
    reader, writer = os.pipe()
    os.close(reader)
    stream = os.fdopen(writer, "w")
    Reporter("logger", stream)("Nobody is there.")
    with pytest.raises(BrokenPipeError):
        stream.close()
