"""The history of one topic or port, in bounded memory."""

from collections import OrderedDict
from dataclasses import dataclass, field

from monitor.listening.guess import Nature, nature
from monitor.listening.heard import MOST_QUANTITIES, Heard, Payload, PayloadKind, Quantity, understood

# Kinds of payload that one place may send; a sketch prints a heading and then its numbers.
MOST_SHAPES = 6
# After so many messages of a place, those that come sooner than this after the last one are only counted, s.
PARSED_FIRST, PARSED_EVERY_S = 20, 0.2
SHOWN = 60


@dataclass(slots=True)
class QuantityHistory:
    """One number of a place over time. latest, low, high: in its unit as sent; None before the first value."""

    path: str
    unit: str = ""
    latest: float | None = None
    low: float = 0.0
    high: float = 0.0
    values: int = 0
    rises: int = 0

    def note(self, quantity: Quantity) -> None:
        """Takes account of the next value."""
        self.unit = quantity.unit or self.unit
        if quantity.value is None:
            return
        if self.latest is None:
            self.low = self.high = quantity.value
        self.rises += self.latest is not None and quantity.value > self.latest
        self.latest, self.values = quantity.value, self.values + 1
        self.low, self.high = min(self.low, quantity.value), max(self.high, quantity.value)

    @property
    def counts_up(self) -> bool:
        """Whether it only ever goes up in whole numbers, as a count or a sketch's own clock does."""
        return self.values >= 4 and self.rises == self.values - 1 and self.latest == int(self.latest or 0.5)

    def nature(self, place: str) -> Nature | None:
        """What it seems to be, by its latest value; None before the first."""
        if self.latest is None:
            return None
        if self.counts_up and not self.unit and (self.path.isdecimal() or not self.path):
            return Nature("other", "", None, False, "it counts up")
        return nature(place, self.path, self.unit, self.latest)


@dataclass(slots=True)
class Shape:
    """Payloads of one kind (and one number of columns) from a place."""

    kind: PayloadKind
    width: int
    count: int = 0
    latest: str = ""
    quantities: dict[str, QuantityHistory] = field(default_factory=dict)

    def note(self, payload: Payload, text: str) -> None:
        """Takes account of the next payload."""
        self.count += 1
        self.latest = text
        for quantity in payload.quantities:
            if quantity.path not in self.quantities and len(self.quantities) >= MOST_QUANTITIES:
                continue
            self.quantities.setdefault(quantity.path, QuantityHistory(quantity.path)).note(quantity)


class PlaceHistory:
    """What one topic or port has sent."""

    def __init__(self, place: str) -> None:
        self.place = place
        self.count = 0
        self.retained = 0
        self.first = self.last = 0.0
        self._parsed_at: float | None = None
        self._shapes: OrderedDict[tuple[PayloadKind, int], Shape] = OrderedDict()

    def note(self, heard: Heard) -> bool:
        """Takes account of the next message; whether it was looked into, and not only counted."""
        self.first = heard.arrived if self.count == 0 else self.first
        self.last = heard.arrived
        self.count += 1
        self.retained += heard.retained
        too_soon = self._parsed_at is not None and 0.0 <= heard.arrived - self._parsed_at < PARSED_EVERY_S
        if self.count > PARSED_FIRST and too_soon:
            return False
        self._parsed_at = heard.arrived
        payload = understood(heard.payload)
        key = payload.kind, payload.width
        if key not in self._shapes and len(self._shapes) >= MOST_SHAPES:
            self._shapes.popitem(last=False)
        shape = self._shapes.setdefault(key, Shape(*key))
        self._shapes.move_to_end(key)
        shape.note(payload, beginning(heard.payload))
        return True

    @property
    def every_s(self) -> float | None:
        """Seconds from message to message; None with fewer than two."""
        live = self.count - self.retained
        return (self.last - self.first) / (self.count - 1) if live >= 2 and self.count >= 2 else None

    @property
    def shape(self) -> Shape:
        """What it mostly sends: of what can be read if that is a third of it, else of everything."""
        shapes = list(self._shapes.values())
        readable = max((one for one in shapes if one.kind.is_readable), key=lambda one: one.count, default=None)
        if readable is not None and readable.count * 3 >= sum(one.count for one in shapes):
            return readable
        return max(shapes, key=lambda one: one.count)

    @property
    def is_useful(self) -> bool:
        """Whether anything in it may be a reading of a probe."""
        shape = self.shape
        if shape.kind is PayloadKind.PACK:
            return True
        natures = [quantity.nature(self.place) for quantity in shape.quantities.values()]
        return any(one is not None and one.kind != "other" for one in natures)


def beginning(payload: bytes) -> str:
    """The beginning of a payload as printable text.

    >>> beginning(b"93.5 C"), beginning(bytes(3)), beginning("°C".encode())
    ('93.5 C', '\\\\x00\\\\x00\\\\x00', '°C')
    """
    cut = payload[: 4 * SHOWN]
    try:
        text = cut.decode("utf-8", "strict" if len(cut) == len(payload) else "ignore").strip()
    except UnicodeDecodeError:
        text = ascii(cut[:SHOWN])[2:-1]
    text = text.replace("\t", " ")
    text = "".join(one if one.isprintable() else ascii(one)[1:-1] for one in text)
    return text if len(text) <= SHOWN else f"{text[:SHOWN]}…"
