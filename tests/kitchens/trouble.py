"""What goes wrong in about a third of the cooks."""

from dataclasses import dataclass
from enum import Enum

import numpy as np

DISTURBED_SHARE = 1.0 / 3.0
FOR_GOOD_S = 1e9


class Kind(Enum):
    """The kinds of trouble."""

    POWER_CUT = "power cut"
    LID_LEFT_OFF = "lid left off"
    TURNED_DOWN = "heat turned down"
    PROBE_OPEN = "probe open"


@dataclass(frozen=True)
class Trouble:
    """One spell of trouble, in seconds from lid on. heat: what is left of it; logged: whether the person logs it."""

    kind: Kind
    begins_s: float
    ends_s: float
    heat: float = 1.0
    logged: bool = False

    def holds(self, elapsed_s: float) -> bool:
        """Whether it is on at this moment."""
        return self.begins_s <= elapsed_s < self.ends_s


def draw_troubles(rng: np.random.Generator) -> tuple[Trouble, ...]:
    """None in two cooks of three; else one, now and then two."""
    if rng.random() >= DISTURBED_SHARE:
        return ()
    return tuple(_draw(rng) for _ in range(2 if rng.random() < 0.15 else 1))


def _draw(rng: np.random.Generator) -> Trouble:
    return draw_trouble(list(Kind)[int(rng.integers(len(Kind)))], rng)


def draw_trouble(kind: Kind, rng: np.random.Generator) -> Trouble:
    """A spell of this kind."""
    begins_s = 60.0 * rng.uniform(10.0, 190.0)
    if kind is Kind.POWER_CUT:
        return Trouble(kind, begins_s, begins_s + 60.0 * rng.uniform(10.0, 60.0), 0.0)
    if kind is Kind.LID_LEFT_OFF:
        return Trouble(kind, begins_s, begins_s + 60.0 * rng.uniform(10.0, 40.0))
    if kind is Kind.PROBE_OPEN:
        return Trouble(kind, begins_s, begins_s + 60.0 * rng.uniform(2.0, 20.0))
    if rng.random() < 0.4:
        # Turned down for good leaves it hot enough to finish the same day.
        ends_s, heat = FOR_GOOD_S, rng.uniform(0.8, 0.92)
    else:
        ends_s, heat = begins_s + 60.0 * rng.uniform(20.0, 60.0), rng.uniform(0.65, 0.9)
    return Trouble(kind, begins_s, ends_s, heat, bool(rng.random() < 0.5))
