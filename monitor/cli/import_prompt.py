"""Guides a person through the import of another program's table: its columns, and how its first rows would be read."""

import shlex
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, tzinfo
from pathlib import Path

from monitor.exchange import (
    HEADING_ROWS,
    SAMPLE_ROWS,
    ExchangeError,
    InferredLayout,
    ParsedTable,
    TableLayout,
    infer_table_layout,
    parse_layout,
    parse_rows,
    read_rows,
    times_without_zone,
    zone_named,
)
from monitor.model import local

SHOWN_ROWS, SHOWN_WIDTH = 4, 22
READ_ROWS = 3


@dataclass(frozen=True)
class Answers:
    """What is to be typed for a file: --columns, and --zone and --date where it takes them, else None."""

    spec: str
    zone: str | None
    day: str | None

    def layout(self) -> TableLayout:
        """Raises ValueError that says what is wrong."""
        zone = zone_named(self.zone) if self.zone else None
        return parse_layout(self.spec, zone, day_named(self.day) if self.day else None)

    def command(self, path: Path) -> str:
        """The command that says the same."""
        words = ["kettleside import", shlex.quote(str(path)), f"--columns={shlex.quote(self.spec)}"]
        words += [f"--zone {shlex.quote(self.zone)}"] if self.zone else []
        words += [f"--date {shlex.quote(self.day)}"] if self.day else []
        return " ".join(words)


def day_named(text: str) -> date:
    """A day such as 2026-03-14. Raises ValueError."""
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise ValueError(f"date is {text[:40]!r}; it must be a day such as 2026-03-14") from None


class LayoutPrompt:
    """A file that was looked at. zone, day: what was typed already, or None."""

    def __init__(self, path: Path, zone: str | None, day: str | None) -> None:
        self._path = path
        self._rows = read_rows(path, SAMPLE_ROWS + 2 * HEADING_ROWS)
        self.guessed: InferredLayout = infer_table_layout(self._rows)
        self._first = Answers(self.guessed.spec, zone or self.guessed.zone, day)

    def shown(self) -> Iterator[str]:
        """How the file begins and what its columns look like."""
        yield "It begins:"
        for row in self._rows[max(0, self.guessed.first_row - 1) :][:SHOWN_ROWS]:
            yield "  " + " | ".join(_short(cell).ljust(8) for cell in row)
        yield "Its columns look like:"
        yield from self._columns(self.guessed.columns, self.guessed.why)

    def typed(self) -> Iterator[str]:
        """What to type where nobody can be asked."""
        answers, guessed = self._first, self.guessed
        if guessed.dateless and answers.day is None:
            yield "It has times of day and no date; say on which day it begins with --date."
            answers = replace(answers, day="YYYY-MM-DD")
        elif guessed.sure:
            yield from self._as_read(answers)
        if not guessed.sure:
            yield f"A time and a channel are wanted; put them in place of -:\n  {answers.command(self._path)}"
            return
        yield f"If that is right:\n  {answers.command(self._path)}"
        if guessed.either_way:
            other = replace(answers, spec=_turned(answers.spec))
            yield "Day and month of its dates could be the other way round as well; then:"
            yield f"  {other.command(self._path)}"
        if times_without_zone(answers.spec) and answers.zone is None:
            yield "Its times name no zone; this machine's is taken unless --zone says another."

    def asked(self, ask: Callable[[str], str], say: Callable[[str], None]) -> Answers:
        """Asks for what the file does not say, until the answers make a layout by which its first rows can be read."""
        answers = self._first
        while True:
            answers = self._ask_columns(answers, ask, say)
            if self.guessed.either_way and _turned(answers.spec) != answers.spec:
                answers = replace(answers, spec=_ask_order(answers.spec, ask))
            if "time:clock" in answers.spec and "date:" not in answers.spec:
                answers = replace(
                    answers, day=_until(ask, say, "On which day does it begin, such as 2026-03-14? ", day_named)
                )
            if times_without_zone(answers.spec):
                own = answers.zone or "this machine's"
                said = _until(
                    ask, say, f"In which zone are its times, such as Europe/Berlin or UTC? [{own}] ", _zone_or_own
                )
                answers = replace(answers, zone=said or answers.zone)
            else:
                answers = replace(answers, zone=None)
            try:
                for line in self._as_read(answers):
                    say(line)
                return answers
            except (ExchangeError, ValueError) as error:
                say(f"That does not fit: {error}")

    def _ask_columns(self, answers: Answers, ask: Callable[[str], str], say: Callable[[str], None]) -> Answers:
        parts = answers.spec.split(",")
        question = "Enter if that is right; else NUMBER=NAME:UNIT, such as 3=wall:degF, or 3=- to pass it over: "
        while True:
            said = ask(question).strip()
            if not said:
                try:
                    parse_layout(",".join(parts), day=date.min)
                    return replace(answers, spec=",".join(parts))
                except ValueError as error:
                    say(_sentence(error))
                    continue
            number, _, part = said.partition("=")
            if not number.strip().isdigit() or not 1 <= int(number) <= len(parts) or not part.strip() or "," in part:
                say(f"Type the number of a column from 1 to {len(parts)}, =, and what it is.")
                continue
            parts[int(number) - 1] = part.strip()
            for line in self._columns(parts, [""] * len(parts)):
                say(line)

    def _columns(self, parts: Sequence[str], why: Sequence[str]) -> Iterator[str]:
        for number, (part, reason) in enumerate(zip(parts, why, strict=True), 1):
            heading = _short(self.guessed.headings[number - 1])
            yield f"  {number:>2}  {part:<12} {f'“{heading}”' if heading else '':<{SHOWN_WIDTH}} {reason}".rstrip()

    def _as_read(self, answers: Answers) -> Iterator[str]:
        layout = answers.layout()
        taken = parse_rows(self._path, layout, self._rows)
        yield "Its first rows would be read as:"
        yield from (f"  {line}" for line in as_read(taken, range(min(READ_ROWS, len(taken.moments)))))


def _ask_order(spec: str, ask: Callable[[str], str]) -> str:
    first, other = ("month", "day") if ":mdy" in spec else ("day", "month")
    said = ask(f"Do its dates begin with the day or with the month? [{first}] ").strip().lower()
    return _turned(spec) if said[:1] == other[0] else spec


def as_read(taken: ParsedTable, rows: Sequence[int]) -> Iterator[str]:
    """Rows in words: when, in the zone of the table and in UTC, and what was measured."""
    for row in rows:
        cells = [
            f"{one.channel} {one.value:.6g} {one.unit}"
            if one.value is not None
            else f"{one.channel} fault {one.fault!r}"
            for one in taken.records(row)
        ]
        yield f"{_when(taken, row)}  {', '.join(cells) or 'no reading'}"


def _when(taken: ParsedTable, row: int) -> str:
    moment = taken.moments[row]
    if not taken.dated:
        return f"{moment:10.2f} s from its start"
    in_zone = _in(moment, taken.layout.zone)
    return f"{in_zone:%d %b %Y %H:%M:%S} ({datetime.fromtimestamp(moment, UTC):%H:%M:%S} UTC)"


def _in(moment: float, zone: tzinfo | None) -> datetime:
    return local(moment) if zone is None else datetime.fromtimestamp(moment, zone)


def _turned(spec: str) -> str:
    """The same with day and month the other way round."""
    return spec.replace(":dmy", ":?").replace(":mdy", ":dmy").replace(":?", ":mdy")


def _zone_or_own(text: str) -> object:
    return zone_named(text.strip()) if text.strip() else None


def _until(ask: Callable[[str], str], say: Callable[[str], None], question: str, read: Callable[[str], object]) -> str:
    """Asks until the answer can be read."""
    while True:
        said = ask(question).strip()
        try:
            read(said)
        except ValueError as error:
            say(_sentence(error))
        else:
            return said


def _short(cell: str) -> str:
    return " ".join(cell.split())[:SHOWN_WIDTH]


def _sentence(error: ValueError) -> str:
    words = str(error)
    return f"{words[:1].upper()}{words[1:]}."
