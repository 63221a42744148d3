"""One cell of a table from elsewhere: a number or a time, as people and loggers write them."""

import math
import re
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta, tzinfo
from types import MappingProxyType
from zoneinfo import ZoneInfo

from monitor.model import parse_unit

# The order in which a date writes its year, month and day.
DATE_ORDERS: Mapping[str, tuple[int, int, int]] = MappingProxyType(
    {"ymd": (0, 1, 2), "dmy": (2, 1, 0), "mdy": (2, 0, 1)}
)
_DATE = re.compile(r"(\d{1,4})[-./ ]+(\d{1,2})[-./, ]+(\d{1,4})(?!\d)[ T,]*")
_CLOCK = re.compile(r"(\d{1,2})[:.](\d\d)(?:[:.](\d\d)(?:[.,](\d{1,9}))?)?\s*([AaPp])?\.?(?:[Mm]\.?)?\Z")
_ISO = re.compile(
    r"(\d{4})-(\d\d)-(\d\d)[T ](\d\d):(\d\d)(?::(\d\d)(?:[.,](\d{1,9}))?)?\s*(?:(Z|UTC|GMT)|([+-])(\d\d):?(\d\d)?)\Z",
    re.I,
)
_STOPWATCH = re.compile(r"(?:(\d{1,3}):)?(\d{1,2}):(\d\d)(?:[.,](\d{1,9}))?\Z")
_MONTH_WORD = re.compile(r"[^\W\d_]{3,}\.?")
# By their first letters, in English, German and French.
_MONTHS: tuple[tuple[str, ...], ...] = (
    ("jan",),
    ("feb", "fév", "fev"),
    ("mar", "mär", "mrz"),
    ("apr", "avr"),
    ("may", "mai"),
    ("jun", "juin"),
    ("jul", "juil"),
    ("aug", "aoû", "aou"),
    ("sep",),
    ("oct", "okt"),
    ("nov",),
    ("dec", "dez", "déc"),
)
_WITH_UNIT = re.compile(r"([-+\d.,\s'’]*\d)\s*([^\W\d]{1,10}|°\s?[CFcf]|[℃℉])\Z")
# Half an hour of grace for rows that are merely out of order.
OUT_OF_ORDER_S = 1800.0


def number(cell: str) -> float:
    """A number as people write it: with a decimal point or comma, with separated thousands, with its unit behind it.

    Raises ValueError.

    >>> number("94,25"), number("1.234,5"), number("1,234.5"), number("-3"), number("93.5 °C")
    (94.25, 1234.5, 1234.5, -3.0, 93.5)
    """
    text = cell.strip()
    if "_" in text:
        raise ValueError(f"value is {cell[:40]!r}")
    try:
        return float(text)
    except ValueError:
        pass
    if unit_behind(text) is not None:
        text = _WITH_UNIT.sub(r"\1", text)
    text = text.replace("\u00a0", "").replace("\u202f", "").replace(" ", "").replace("\u2212", "-")
    if "," in text:
        thousands, point = (".", ",") if text.rfind(",") > text.rfind(".") else (",", ".")
        text = text.replace(thousands, "").replace(point, ".")
    return float(text)


def unit_behind(cell: str) -> str | None:
    """The unit that a cell names behind its number, as a layout names it; None where it names none that is known.

    >>> unit_behind("199.4 °F"), unit_behind("12 of 20")
    ('degF', None)
    """
    match = _WITH_UNIT.match(cell.strip())
    known = parse_unit(match.group(2)) if match is not None else None
    return known.name if known is not None else None


def zoned_moment(cell: str) -> float:
    """Unix seconds of a date and time that names its offset, as RFC 3339 and its near kin write it. Raises ValueError.

    >>> zoned_moment("2026-03-14 11:40:00,5+0100"), zoned_moment("2026-03-14T10:40Z")
    (1773484800.5, 1773484800.0)
    """
    match = _ISO.match(cell.strip())
    if match is None:
        raise ValueError(f"time is {cell[:40]!r}; it must be RFC 3339 such as 2026-03-14T10:40:00Z")
    year, month, day, hour, minute = (int(match.group(i)) for i in range(1, 6))
    offset_s = 0.0
    if match.group(9):
        offset_s = float(f"{match.group(9)}1") * (int(match.group(10)) * 3600.0 + int(match.group(11) or 0) * 60.0)
    whole = datetime(year, month, day, hour, minute, int(match.group(6) or 0), tzinfo=UTC).timestamp()
    return whole - offset_s + _fraction(match.group(7))


def stopwatch_s(cell: str) -> float:
    """Seconds of a time that counts from the start: hours, minutes and seconds, or minutes and seconds.

    Raises ValueError.

    >>> stopwatch_s("1:02:03.5"), stopwatch_s("90:00")
    (3723.5, 5400.0)
    """
    match = _STOPWATCH.match(cell.strip())
    if match is None:
        raise ValueError(f"time is {cell[:40]!r}")
    return (
        int(match.group(1) or 0) * 3600.0 + int(match.group(2)) * 60.0 + int(match.group(3)) + _fraction(match.group(4))
    )


def local_moment(cell: str, order: str, zone: tzinfo | None, before: float = -math.inf) -> float:
    """Unix seconds of a date and a time of day in a zone, the machine's own where it is None.

    order: "ymd", "dmy" or "mdy". before: the moment of the row before; it tells the first 2:30 of the night in which
    the clocks go back from the second. Raises ValueError.

    >>> local_moment("14.03.2026 11:40:00,5", "dmy", ZoneInfo("Europe/Berlin"))
    1773484800.5
    >>> local_moment("14-Mar-26 11:40 am", "dmy", ZoneInfo("Europe/Berlin"))
    1773484800.0
    """
    text = _month_in_digits(cell.strip())
    date = _DATE.match(text)
    clock = _CLOCK.match(text[date.end() :]) if date else None
    if date is None or clock is None:
        raise ValueError(f"time is {cell[:40]!r}")
    year, month, day = (int(date.group(i + 1)) for i in DATE_ORDERS[order])
    hour, minute, second = int(clock.group(1)), int(clock.group(2)), int(clock.group(3) or 0)
    if clock.group(5):
        if not 1 <= hour <= 12:
            raise ValueError(f"time is {cell[:40]!r}")
        hour = hour % 12 + (12 if clock.group(5) in "Pp" else 0)
    naive = datetime(year + 2000 if year < 100 else year, month, day, hour, minute, second, tzinfo=UTC)
    fraction = _fraction(clock.group(4))
    first = _in_zone(naive, zone, 0) + fraction
    if first >= before - OUT_OF_ORDER_S:
        return first
    second_time = _in_zone(naive, zone, 1) + fraction
    return second_time if before - OUT_OF_ORDER_S < second_time else first


def _fraction(digits: str | None) -> float:
    return float(f"0.{digits}") if digits else 0.0


def _month_in_digits(text: str) -> str:
    """The same with the month's name as its number."""
    word = _MONTH_WORD.search(text)
    if word is None:
        return text
    month_name = word.group().rstrip(".").lower()
    for number, names in enumerate(_MONTHS, 1):
        if month_name.startswith(names):
            return f"{text[: word.start()]}{number}{text[word.end() :]}"
    return text


def _in_zone(wall: datetime, zone: tzinfo | None, fold: int) -> float:
    plain = wall.replace(tzinfo=None, fold=fold)
    if zone is None:
        return plain.astimezone().timestamp()
    offset = zone.utcoffset(plain) or timedelta()
    return wall.timestamp() - offset.total_seconds()


def zone_named(name: str) -> tzinfo:
    """A time zone by its name in the tz database, such as Europe/Berlin, or UTC. Raises ValueError."""
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise ValueError(f"zone is {name[:40]!r}; it must be a name such as Europe/Berlin or UTC") from None
