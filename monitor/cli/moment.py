"""A moment as a person or a script writes it on a command line."""

import re
from datetime import UTC, datetime, timedelta

from monitor.model import local

_UNITS_S = {"s": 1.0, "min": 60.0, "m": 60.0, "h": 3600.0}
_AGO = re.compile(r"-(\d+(?:\.\d+)?)\s*(s|min|m|h)")
_UNIX = re.compile(r"\d{9,11}(?:\.\d+)?")
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?")
# A clock that shows no seconds may be read as up to a minute ahead, s.
_AHEAD_S = 60.0
_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def moment(text: str, now: float, began: float) -> float:
    """The moment in Unix seconds.

    text: RFC 3339 (2026-03-14T10:20:00Z), Unix seconds, a time of today in this machine's zone (10:20), or a
    span before now (-5m, -90s, -1.5h). A time of day that is still to come today means yesterday, if the cook had begun
    by then.
    now, began: the present and the start of the cook, Unix seconds. Raises ValueError.

    >>> moment("-5m", 1_773_480_000.0, 0.0) - 1_773_480_000.0
    -300.0
    >>> moment("2026-03-14T10:20:00+01:00", 0.0, 0.0), moment("1773480000.5", 0.0, 0.0)
    (1773480000.0, 1773480000.5)
    """
    text = text.strip()
    if ago := _AGO.fullmatch(text):
        return now - float(ago[1]) * _UNITS_S[ago[2]]
    if _UNIX.fullmatch(text):
        return float(text)
    if clock := _CLOCK.fullmatch(text):
        return _today(clock, now, began)
    try:
        parsed = datetime.fromisoformat(text)
    except ValueError:
        parsed = None
    if parsed is None or len(text) < len("2026-03-14T10:20Z"):
        raise ValueError(f"the time is {text!r}; write such as 10:20, -5m, 2026-03-14T10:20:00Z or Unix seconds")
    if parsed.tzinfo is None:
        raise ValueError(f"the time is {text!r}; it lacks its zone, such as Z or +01:00")
    return parsed.astimezone(UTC).timestamp()


def _today(clock: re.Match[str], now: float, began: float) -> float:
    hours, minutes, seconds = (int(part or 0) for part in clock.groups())
    if hours > 23 or minutes > 59 or seconds > 59:
        raise ValueError(f"the time is {clock[0]!r}; it must be from 00:00 to 23:59")
    # Without a zone, so that the machine's rules of that day count, not those of today.
    day = local(now).replace(tzinfo=None, hour=hours, minute=minutes, second=seconds, microsecond=0)
    yesterday = (day - timedelta(days=1)).timestamp()
    today = day.timestamp()
    return yesterday if today > now + _AHEAD_S and yesterday >= began else today


def coming_moment(text: str, now: float, at: str = "") -> float:
    """A moment to come, in Unix seconds, in this machine's zone where it names none.

    text: a time of today (14:00), a day and a time ("tomorrow 14:00", "saturday 9:30", 2026-12-05T14:00, "2026-12-05
    14:00"), RFC 3339 or Unix seconds. A weekday is the next one, today excepted. now: Unix seconds. at: the time of day
    of a day that is named without one; without it a day alone is refused. Raises ValueError.

    >>> coming_moment("tomorrow 9:30", 1_773_480_000.0) - coming_moment("today 9:30", 1_773_480_000.0)
    86400.0
    """
    said = text.strip().casefold().replace("t", " ", 1) if re.match(r"\d{4}-\d\d-\d\dT", text.strip()) else text.strip()
    head, _, clock = said.casefold().rpartition(" ")
    if at and not head and not _CLOCK.fullmatch(clock):
        head, clock = clock, at
    found = _CLOCK.fullmatch(clock)
    day = _day_named(head or "today", now) if found else None
    if found is None or day is None:
        return moment(text, now, 0.0)
    hours, minutes, seconds = (int(part or 0) for part in found.groups())
    if hours > 23 or minutes > 59 or seconds > 59:
        raise ValueError(f"the time is {clock!r}; it must be from 00:00 to 23:59")
    return day.replace(hour=hours, minute=minutes, second=seconds).timestamp()


def _day_named(word: str, now: float) -> datetime | None:
    """Midnight of a day by its name or date, without a zone; None for no day."""
    today = local(now).replace(tzinfo=None, hour=0, minute=0, second=0, microsecond=0)
    if word in ("today", "tomorrow"):
        return today + timedelta(days=word == "tomorrow")
    matching = [n for n, name in enumerate(_WEEKDAYS) if len(word) >= 3 and name.startswith(word)]
    if matching:
        return today + timedelta(days=(matching[0] - today.weekday() - 1) % 7 + 1)
    try:
        return datetime.strptime(word, "%Y-%m-%d")  # noqa: DTZ007 - in the zone of whoever typed it
    except ValueError:
        return None
