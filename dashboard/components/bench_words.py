"""Results as a bench page shows them: numbers in words, sentences and cautions, each with its place on the page."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from monitor.chemistry import Excess
from monitor.formulation import Caution, ounces, uk_fluid_ounces, us_fluid_ounces


@dataclass(slots=True)
class Answer:
    """What a page is to show. Keys are places on the page.

    out: a number in words. say: sentences. rows: lists of what it is and how much. care: cautions, by the field of the
    result they stand beside. show: parts that are there only now and then. bar: where the marks of the drawn range
    stand, per cent of its width.
    turn: for a choice, the same thing in each of its ways, so that changing the way changes nothing.
    ounces: whether weights are told in ounces first. step_g: what the scale shows, g; 0 where nobody has said.
    figure: a picture of it, None where there is none.
    """

    ounces: bool = False
    step_g: float = 0.0
    out: dict[str, str] = field(default_factory=dict)
    say: dict[str, list[str]] = field(default_factory=dict)
    rows: dict[str, list[tuple[str, str]]] = field(default_factory=dict)
    care: dict[str, list[str]] = field(default_factory=dict)
    show: dict[str, bool] = field(default_factory=dict)
    bar: dict[str, float] = field(default_factory=dict)
    turn: dict[str, dict[str, float]] = field(default_factory=dict)
    figure: Any = None

    def grams(self, place: str, grams: float) -> None:
        """A weight, in grams and at wish in ounces first."""
        self.out[place] = weight(grams, self.ounces, self.step_g)

    def water(self, place: str, grams: float) -> None:
        """Water, of which a gram is a millilitre for any kitchen."""
        more = f"; {us_fluid_ounces(grams):.1f} US or {uk_fluid_ounces(grams):.1f} UK fl oz" if self.ounces else ""
        self.out[place] = weight(grams, self.ounces, self.step_g) + more

    def warn(self, cautions: Iterable[Caution], prefix: str = "") -> None:
        """Cautions, each beside the number it belongs to."""
        for caution in cautions:
            said = self.care.setdefault(prefix + caution.beside, [])
            if caution.words not in said:
                said.append(caution.words)

    def as_json(self) -> dict[str, object]:
        """The answer as the page's script takes it."""
        return {
            "out": self.out,
            "say": self.say,
            "care": self.care,
            "show": self.show,
            "bar": self.bar,
            "turn": self.turn,
        }


def weight(grams: float, in_ounces: bool = False, step_g: float = 0.0) -> str:
    """A weight with as many figures as a kitchen scale may show. step_g: rounded to it, where it is told in grams.

    >>> weight(128.754), weight(0.684), weight(12_500.4), weight(128.754, True)
    ('128.8 g', '0.68 g', '12500 g', '4.54 oz (128.8 g)')
    >>> weight(128.754, step_g=1.0), weight(128.754, step_g=0.5), weight(128.754, step_g=0.01)
    ('129 g', '129.0 g', '128.75 g')
    """
    if step_g and not in_ounces:
        return f"{round(grams / step_g) * step_g:.{max(0, math.ceil(-math.log10(step_g)))}f} g"
    places = 0 if grams >= 10_000 or grams == 0 else 1 if grams >= 10 else 2
    plain = f"{grams:.{places}f} g"
    return f"{ounces(grams):.{2 if grams >= 10 else 3}f} oz ({plain})" if in_ounces else plain


def percent(share: float, places: int = 1) -> str:
    r"""A fraction in per cent.

    >>> percent(0.2345)
    '23.4 %'
    >>> percent(-0.004) == "\N{MINUS SIGN}0.4 %"
    True
    """
    return f"{100.0 * share:.{places}f} %".replace("-", "\N{MINUS SIGN}")


def drawn(excess: Excess) -> dict[str, float]:
    """Where the marks of an excess stand on a line from its left to its right end, per cent of the line.

    >>> marks = drawn(Excess(-0.02, -0.01, 0.03, 0.05, 0.06, 0.02))
    >>> marks["least"] < marks["nought"] < marks["taken"] < marks["most"]
    True
    """
    room = 0.15 * max(excess.most - min(excess.least, 0.0), 0.01)
    low, high = min(excess.least, 0.0) - room, max(excess.most, 0.0) + room
    places = {
        "least": excess.least,
        "likely_low": excess.likely_low,
        "taken": excess.taken,
        "likely_high": excess.likely_high,
        "most": excess.most,
        "nought": 0.0,
    }
    return {name: round(100.0 * (at - low) / (high - low), 2) for name, at in places.items()}
