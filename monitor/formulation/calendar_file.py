"""Dates for a phone's calendar, which reminds when this program no longer runs (RFC 5545)."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime


@dataclass(frozen=True, slots=True)
class CalendarEntry:
    """One date of a calendar. begins, ends: Unix seconds. uid: the same whenever the same date is written again.

    reminder: what the phone says when it begins.
    """

    uid: str
    begins: float
    ends: float
    summary: str
    reminder: str


def calendar_text(made: float, purpose: str, entries: Iterable[CalendarEntry]) -> str:
    """An iCalendar file. made: when it was written, Unix seconds. purpose: one word, for the product identifier.

    References
    ----------
    .. [1] RFC 5545, Internet Calendaring and Scheduling Core Object Specification.
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:-//kettleside//{purpose}//EN"]
    for entry in entries:
        lines += [
            "BEGIN:VEVENT",
            f"UID:{entry.uid}@kettleside",
            f"DTSTAMP:{_utc(made)}",
            f"DTSTART:{_utc(entry.begins)}",
            f"DTEND:{_utc(entry.ends)}",
            f"SUMMARY:{_escaped(entry.summary)}",
            "BEGIN:VALARM",
            "ACTION:DISPLAY",
            "TRIGGER:PT0S",
            f"DESCRIPTION:{_escaped(entry.reminder)}",
            "END:VALARM",
            "END:VEVENT",
        ]
    lines.append("END:VCALENDAR")
    return "".join(folded + "\r\n" for line in lines for folded in _folded(line))


def _utc(moment: float) -> str:
    return f"{datetime.fromtimestamp(moment, UTC):%Y%m%dT%H%M%SZ}"


def _escaped(text: str) -> str:
    plain = "".join(each if each >= " " else " " for each in text)
    return plain.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")


def _folded(line: str) -> list[str]:
    """A content line in pieces of at most 75 octets; continuation lines begin with a blank (RFC 5545, 3.1)."""
    pieces, piece = [], ""
    for letter in line:
        if len((piece + letter).encode()) > 75:
            pieces.append(piece)
            piece = " "
        piece += letter
    return [*pieces, piece]
