"""After the pot: settling, additives by percentage, and bottles."""

import math
from dataclasses import dataclass

from monitor.chemistry import check_range
from monitor.formulation.calendar_file import CalendarEntry, calendar_text
from monitor.formulation.cautions import FLAMMABLE, KEEPING, PRESERVATIVE, SKIN, SUPPLIER_LIMIT, Caution
from monitor.formulation.mass_balance import Addition
from monitor.model import SETTLING_DAYS

DAY_S = 86_400.0
LOOK_S = 1800.0
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
    """When settling began and when to look again, Unix seconds.

    words: what to look for; calendar: an iCalendar file.
    """

    began: float
    look_at: float
    words: tuple[str, ...]
    calendar: str


def settling_plan(began: float, what: str, days: float = SETTLING_DAYS) -> Settling:
    """A reminder to look at the soap after it has settled.

    Parameters
    ----------
    began : when settling began, Unix seconds, 0 to 1e11.
    what : the batch's name.
    days : settling time, 1 to 60 days; a week is common practice, no source.

    Returns the plan with an iCalendar file for a phone's calendar, which reminds when this program no longer runs.

    References
    ----------
    .. [1] RFC 5545, Internet Calendaring and Scheduling Core Object Specification.

    >>> settling_plan(0.0, "Brush soap").look_at
    604800.0
    """
    check_range("began", began, 0.0, 1e11, "s")
    check_range("days", days, 1.0, 60.0)
    look_at = began + days * DAY_S
    return Settling(began, look_at, SETTLING_ADVICE, _calendar(began, look_at, what))


def _calendar(began: float, look_at: float, what: str) -> str:
    summary, reminder = f"Look whether {what} has settled", f"{what}: clear, or filter"
    entry = CalendarEntry(f"settling-{began:.0f}", look_at, look_at + LOOK_S, summary, reminder)
    return calendar_text(began, "settling", (entry,))


@dataclass(frozen=True, slots=True)
class Additive:
    """An additive for the finished soap.

    percent: of the whole product, by mass; most_percent: its supplier's limit.
    """

    what: str
    percent: float
    most_percent: float


@dataclass(frozen=True, slots=True)
class AdditiveAmounts:
    """The mass of each additive, of the soap and of the product, g.

    cautions: belong to ``grams``, the one on its keeping to ``keeping``.
    """

    grams: tuple[Addition, ...]
    soap_g: float
    product_g: float
    cautions: tuple[Caution, ...]


def additive_amounts(soap_g: float, wanted: tuple[Additive, ...]) -> AdditiveAmounts:
    """The mass of each additive so that it is its percentage of the whole product.

        m_product = m_soap / (1 - sum(p_i) / 100);  m_i = p_i m_product / 100

    Parameters
    ----------
    soap_g : finished soap before the additives, g, 1 to 1e6.
    wanted : additives, each from 0 to its supplier's limit (at most 50 %), together at most 50 %.

    Raises ValueError outside these ranges.

    >>> found = additive_amounts(970, (Additive("scent", 1.0, 2.0), Additive("glycerol", 2.0, 5.0)))
    >>> [(each.what, each.grams) for each in found.grams]
    [('scent', 10.0), ('glycerol', 20.0)]
    """
    check_range("soap_g", soap_g, 1.0, 1e6, "g")
    for each in wanted:
        check_range(f"the most of {each.what}", each.most_percent, 0.0, 50.0, "%")
        check_range(each.what, each.percent, 0.0, each.most_percent, "%")
    share = sum(each.percent for each in wanted) / 100.0
    check_range("additions_percent", 100.0 * share, 0.0, 50.0, "%")
    product_g = soap_g / (1.0 - share)
    return AdditiveAmounts(
        tuple(Addition(each.what, product_g * each.percent / 100.0) for each in wanted),
        soap_g,
        product_g,
        (
            *((Caution("grams", SUPPLIER_LIMIT), Caution("grams", FLAMMABLE)) if wanted else ()),
            Caution("grams", PRESERVATIVE),
            Caution("keeping", KEEPING),
            Caution("grams", SKIN),
        ),
    )


@dataclass(frozen=True, slots=True)
class Bottles:
    """The number of full bottles and the volumes in mL; over_ml: the remainder."""

    full: int
    bottle_ml: float
    product_ml: float
    over_ml: float


def bottles(product_g: float, bottle_ml: float, kg_l: float = SOAP_KG_L) -> Bottles:
    """The number of bottles that a mass of soap fills, and the remainder: floor(m / (rho V)).

    Parameters
    ----------
    product_g : soap, g, 1 to 1e6.
    bottle_ml : volume of one bottle, mL, 5 to 20 000.
    kg_l : density of the soap, kg/L, 0.9 to 1.2; the default of 1.02 is from memory, so weigh a full bottle to know.

    >>> bottles(1300, 250).full
    5
    """
    check_range("product_g", product_g, 1.0, 1e6, "g")
    check_range("bottle_ml", bottle_ml, 5.0, 20_000.0, "mL")
    check_range("kg_l", kg_l, 0.9, 1.2, "kg/L")
    volume = product_g / kg_l
    full = math.floor(volume / bottle_ml + 1e-9)
    return Bottles(full, bottle_ml, volume, max(volume - full * bottle_ml, 0.0))
