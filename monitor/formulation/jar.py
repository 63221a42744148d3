"""A jar of product that stock solution is dosed into, portion by portion, as it was typed or logged."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from monitor.chemistry import check_range
from monitor.model import Event

# Grams of product that are usual: a jar that a kitchen scale and a hand can manage.
USUAL_JAR_G = 100.0
# kind of event -> (the field that names what is in the stock, the field of what was measured)
MEASURED = {"jar neutralised": ("reagent", "ph"), "jar thickened": ("thickener", "run_out_s")}


@dataclass(frozen=True, slots=True)
class JarReading:
    """One look at the jar. stock_g: stock so far, g. value: pH, or seconds of run-out. clear: how it looked."""

    stock_g: float
    value: float
    clear: bool = True


@dataclass(frozen=True, slots=True)
class Jar:
    """A jar and its readings in order.

    jar_g: product at the start, g, 10 to 5000. what: is dissolved in the stock. stock_percent: strength of the stock,
    per cent by mass, or None where it is unknown. readings: stock so far 0 to 500 g, never falling.
    """

    jar_g: float
    what: str
    stock_percent: float | None
    readings: tuple[JarReading, ...]

    def __post_init__(self) -> None:
        check_range("jar_g", self.jar_g, 10.0, 5000.0, "g")
        if self.stock_percent is not None:
            check_range("stock_percent", self.stock_percent, 0.01, 100.0, "%")
        for reading in self.readings:
            check_range("stock_g", reading.stock_g, 0.0, 500.0, "g")
        for before, after in pairwise(self.readings):
            if after.stock_g < before.stock_g:
                raise ValueError(
                    f"stock_g is {after.stock_g:g} g after {before.stock_g:g} g; it is the total so far, so it must "
                    f"be at least {before.stock_g:g} g, or the jar is a new one"
                )

    @property
    def stock_so_far_g(self) -> float:
        """Stock in the jar by now, g."""
        return self.readings[-1].stock_g if self.readings else 0.0

    @property
    def has_two_totals(self) -> bool:
        """Whether readings at two different totals are there, without which it says nothing."""
        return len({reading.stock_g for reading in self.readings}) >= 2

    @property
    def clear_readings(self) -> tuple[JarReading, ...]:
        """The readings before the first that was cloudy. Raises ValueError where the very first was."""
        first_cloudy = next((n for n, reading in enumerate(self.readings) if not reading.clear), len(self.readings))
        if self.readings and first_cloudy == 0:
            stock_g = self.readings[0].stock_g
            if stock_g > 0.0:
                raise ValueError(
                    f"look is cloudy at the first portion of {stock_g:g} g; take a new jar and a smaller portion"
                )
            raise ValueError("look is cloudy before anything went in; take product that is clear, or let it settle")
        return self.readings[:first_cloudy]

    @property
    def cloudy_from_g(self) -> float | None:
        """The total of stock at which it was first seen cloudy, g, or None."""
        return next((reading.stock_g for reading in self.readings if not reading.clear), None)

    def dissolved_g(self, stock_g: float) -> float | None:
        """Grams of reagent or thickener in so much stock; None where its strength is unknown."""
        return None if self.stock_percent is None else stock_g * self.stock_percent / 100.0


def latest_jar(events: Sequence[Event], kind: str) -> Jar | None:
    """The last jar of a cook, or None.

    Parameters
    ----------
    events : in the order in which they happened.
    kind : "jar neutralised" or "jar thickened".

    A new jar begins where its mass, its stock or the strength of that changes, and where the total so far falls.
    """
    name, measured = MEASURED[kind]
    found: Jar | None = None
    for event in events:
        if event.kind != kind:
            continue
        percent = event.fields.get("stock_percent")
        reading = JarReading(
            _number(event, "stock_g"), _number(event, measured), event.fields.get("look", "clear") == "clear"
        )
        jar = Jar(
            _number(event, "jar_g"),
            str(event.fields[name]),
            percent if isinstance(percent, float) else None,
            (reading,),
        )
        if found and _same_jar(found, jar):
            found = Jar(found.jar_g, found.what, found.stock_percent, (*found.readings, reading))
        else:
            found = jar
    return found


def _same_jar(found: Jar, jar: Jar) -> bool:
    same = (found.jar_g, found.what, found.stock_percent) == (jar.jar_g, jar.what, jar.stock_percent)
    return same and jar.readings[0].stock_g >= found.stock_so_far_g


def _number(event: Event, name: str) -> float:
    value = event.fields[name]
    return value if isinstance(value, float) else 0.0
