"""After the pot: letting the soap settle, additions by percentage, and bottles."""

import math
from dataclasses import dataclass
from datetime import UTC, datetime

from monitor.formulation.cautions import PRESERVATIVE, SKIN, Caution
from monitor.formulation.validation import check_range

# About a week: common practice, no source.
SETTLING_DAYS = 7.0
DAY_S = 86_400.0
# kg per litre of soap solution at room temperature: 1.02 at about 25 % soap, from memory; weigh a full bottle to know.
SOAP_KG_L = 1.02

SETTLING_ADVICE = (
    "Let it stand in a clean closed vessel, cool and out of the sun, for about a week.",
    "Clear above with a little at the bottom: pour or siphon the clear off.",
    "Haze that does not settle: warm gently and look again, then filter through a fine cloth or a paper filter.",
    "A layer on top is oil or fatty acid: it was short of alkali, or neutralised too far.",
)


@dataclass(frozen=True, slots=True)
class Settling:
    """When to look again, Unix seconds; what to look for."""

    began: float
    look_at: float
    words: tuple[str, ...]
    calendar: str


def settling_plan(began: float, what: str, days: float = SETTLING_DAYS) -> Settling:
    """A reminder to look at the soap that began to settle at ``began`` (Unix seconds).

    what: the batch's name. days: 1 to 60. calendar: the same as an iCalendar file (RFC 5545), for a phone's own
    calendar, which rings when this program is long closed.

    >>> settling_plan(0.0, "Brush soap").look_at
    604800.0
    """
    check_range("began", began, 0.0, 1e11, "s")
    check_range("days", days, 1.0, 60.0)
    look_at = began + days * DAY_S
    return Settling(began, look_at, SETTLING_ADVICE, _calendar(began, look_at, what))


def _calendar(began: float, look_at: float, what: str) -> str:
    lines = (
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//kettleside//settling//EN",
        "BEGIN:VEVENT",
        f"UID:settling-{began:.0f}@kettleside",
        f"DTSTAMP:{_utc(began)}",
        f"DTSTART:{_utc(look_at)}",
        f"DTEND:{_utc(look_at + 1800.0)}",
        f"SUMMARY:{_escaped(f'Look whether {what} has settled')}",
        "BEGIN:VALARM",
        "ACTION:DISPLAY",
        "TRIGGER:PT0S",
        f"DESCRIPTION:{_escaped(f'{what}: clear, or filter')}",
        "END:VALARM",
        "END:VEVENT",
        "END:VCALENDAR",
    )
    return "".join(folded + "\r\n" for line in lines for folded in _folded(line))


def _utc(moment: float) -> str:
    return f"{datetime.fromtimestamp(moment, UTC):%Y%m%dT%H%M%SZ}"


def _escaped(text: str) -> str:
    plain = "".join(each if each >= " " else " " for each in text)
    return plain.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")


def _folded(line: str) -> list[str]:
    """A content line in pieces of at most 75 octets, the later ones begun with a blank (RFC 5545, 3.1)."""
    pieces, piece = [], ""
    for letter in line:
        if len((piece + letter).encode()) > 75:
            pieces.append(piece)
            piece = " "
        piece += letter
    return [*pieces, piece]


@dataclass(frozen=True, slots=True)
class Additive:
    """Something added to the finished soap. percent: of the whole product when it is in; most_percent: its maker's
    limit."""

    what: str
    percent: float
    most_percent: float


@dataclass(frozen=True, slots=True)
class AdditiveAmounts:
    """Grams of each addition, and of the whole. cautions stand beside ``grams``."""

    grams: tuple[tuple[str, float], ...]
    soap_g: float
    product_g: float
    cautions: tuple[Caution, ...]


def additive_amounts(soap_g: float, wanted: tuple[Additive, ...]) -> AdditiveAmounts:
    """What to weigh so that each addition is its share of the whole product.

    soap_g: of finished soap before them. Raises ValueError for one above the limit its maker states, or for more than
    half in all.

    >>> additive_amounts(970, (Additive("scent", 1.0, 2.0), Additive("glycerol", 2.0, 5.0))).grams
    (('scent', 10.0), ('glycerol', 20.0))
    """
    check_range("soap_g", soap_g, 1.0, 1e6, "g")
    for each in wanted:
        check_range(f"most_percent of {each.what}", each.most_percent, 0.0, 50.0, "%")
        check_range(f"percent of {each.what}", each.percent, 0.0, each.most_percent, "%")
    share = sum(each.percent for each in wanted) / 100.0
    check_range("additions together", 100.0 * share, 0.0, 50.0, "%")
    product_g = soap_g / (1.0 - share)
    return AdditiveAmounts(
        tuple((each.what, product_g * each.percent / 100.0) for each in wanted),
        soap_g,
        product_g,
        (Caution("grams", PRESERVATIVE), Caution("grams", SKIN)),
    )


@dataclass(frozen=True, slots=True)
class Bottles:
    """How many bottles are filled, and what is over. Volumes in mL."""

    full: int
    bottle_ml: float
    product_ml: float
    over_ml: float


def bottles(product_g: float, bottle_ml: float, kg_l: float = SOAP_KG_L) -> Bottles:
    """Full bottles from this much soap.

    product_g: soap, g. bottle_ml: what goes into one, 5 to 20 000 mL. kg_l: density of the soap, 0.9 to 1.2 kg/L.

    >>> bottles(1300, 250).full
    5
    """
    check_range("product_g", product_g, 1.0, 1e6, "g")
    check_range("bottle_ml", bottle_ml, 5.0, 20_000.0, "mL")
    check_range("kg_l", kg_l, 0.9, 1.2, "kg/L")
    volume = product_g / kg_l
    full = math.floor(volume / bottle_ml + 1e-9)
    return Bottles(full, bottle_ml, volume, max(volume - full * bottle_ml, 0.0))
