"""What was found out about one topic or port, and the source that reads it."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from monitor.listening.guess import Nature, named_role, plain_name
from monitor.listening.heard import PayloadKind
from monitor.listening.place import PlaceHistory, QuantityHistory, Shape
from monitor.listening.urls import layout_option, source_text
from monitor.model import is_usable_unit, parse_unit, role
from monitor.sources import SourceUrl

MOST_CHANNELS = 8
# A probe held in a hand goes up by more than its noise, degC.
MOVED_C = 2.0
_DECIMAL_COMMAS = re.compile(r"-?\d+,\d{1,3}(?:[;\t ]\s*-?\d+,\d{1,3})*")


@dataclass(frozen=True, slots=True)
class FoundChannel:
    """A number that is read as a channel. path: see ``Quantity``. value: the latest, in ``unit``.

    reason: why it is read so, as the rest of a sentence. doubt: what to check, a sentence, or empty. celsius: the value
    of a temperature. moved_c: by how much it went up and down while it was listened to, degC. named: whether a name or
    a unit says that it is such a quantity. by_name: whether a name says which channel it is.
    """

    path: str
    channel: str
    unit: str
    value: float
    reason: str
    doubt: str
    celsius: float | None
    moved_c: float
    named: bool
    by_name: bool


@dataclass(frozen=True, slots=True)
class PlaceFinding:
    """What one topic or port sends, and how it is read.

    every_s: seconds from message to message, or None. latest: the beginning of the latest payload. left_out: what is
    not read, and why. source: the URL that reads it, or None, and then ``problem`` says why in one sentence.
    renamings: as ``--as`` has them, for packs whose channels have other names.
    """

    place: str
    kind: PayloadKind
    width: int
    count: int
    retained: int
    every_s: float | None
    latest: str
    channels: tuple[FoundChannel, ...] = ()
    left_out: tuple[tuple[str, float, str], ...] = ()
    source: str | None = None
    renamings: tuple[str, ...] = ()
    problem: str = ""

    def channel(self, name: str) -> FoundChannel | None:
        """The channel of this name, or None."""
        return next((one for one in self.channels if one.channel == name), None)

    def label(self, path: str) -> str:
        """A number of it, for a sentence; empty where there is only one."""
        return f"column {path}" if self.kind is PayloadKind.COLUMNS else path

    @property
    def is_temperature(self) -> bool:
        """Whether any temperature is read from it."""
        return any(one.celsius is not None for one in self.channels)


@dataclass(slots=True)
class _Candidate:
    quantity: QuantityHistory
    nature: Nature
    role: str
    reason: str
    moved_c: float
    by_name: bool


def finding(place: PlaceHistory, listened: SourceUrl, options: Mapping[str, str], *, needs_paste: bool) -> PlaceFinding:
    """What a place sends and how it is read.

    listened: the URL that was listened to; options: of the connection. needs_paste: one of the temperatures is the
    paste whatever their names say.
    """
    shape = place.shape
    base = (place.place, shape.kind, shape.width, place.count, place.retained, place.every_s, shape.latest)
    if not shape.kind.is_readable:
        return PlaceFinding(*base, problem=_unreadable(shape))
    candidates, left_out = _sorted_out(place, shape, needs_paste)
    channels = _named(place.place, candidates)
    if shape.kind is PayloadKind.COLUMNS:
        channels = _with_comma_doubt(_all_columns(channels, left_out, shape), shape.latest)
        left_out = ()
    if not any(one.celsius is not None or role(one.channel) == "ph" for one in channels):
        return PlaceFinding(*base, left_out=left_out, problem="Nothing in it looks like a temperature or a pH.")
    renamings: tuple[str, ...] = ()
    option: tuple[tuple[str, str], ...] = ()
    if shape.kind is PayloadKind.PACK:
        renamings = tuple(filter(None, (_renaming(one, shape) for one in channels)))
    else:
        option = layout_option(shape.kind, [(one.path, one.channel, one.unit) for one in channels])
    source = source_text(listened, place.place, options, option)
    return PlaceFinding(*base, channels, left_out, source, renamings)


def _unreadable(shape: Shape) -> str:
    if shape.kind is PayloadKind.BINARY:
        return "It is no text, so no source reads it."
    if shape.kind is PayloadKind.EMPTY:
        return "It is empty."
    return "It is no number, row of numbers or JSON object: let it send such as 93.5, or 93.5,21.0, one line a reading."


def _sorted_out(
    place: PlaceHistory, shape: Shape, needs_paste: bool
) -> tuple[list[_Candidate], tuple[tuple[str, float, str], ...]]:
    candidates: list[_Candidate] = []
    left_out = []
    for quantity in shape.quantities.values():
        nature = quantity.nature(place.place)
        if nature is None or quantity.latest is None:
            continue
        if nature.kind == "other":
            left_out.append((quantity.path, quantity.latest, nature.why))
            continue
        part = "ph" if nature.kind == "ph" else named_role(place.place, quantity.path, nature.celsius)
        known = parse_unit(nature.unit)
        moved_c = (quantity.high - quantity.low) / (1.8 if known is not None and known.name == "degF" else 1.0)
        candidates.append(_Candidate(quantity, nature, part, "its name says so" if part else "", moved_c, bool(part)))
    _choose_paste([one for one in candidates if one.nature.kind == "temperature"], needs_paste)
    return candidates, tuple(left_out)


def _choose_paste(temperatures: Sequence[_Candidate], needs_paste: bool) -> None:
    """Makes one of them the paste: one that is named so, else one that has no other name."""
    named = [one for one in temperatures if one.role == "paste"]
    free = named or [one for one in temperatures if not one.role] or (list(temperatures) if needs_paste else [])
    if not free:
        return
    for one in named:
        one.role = ""
    moved = max(free, key=lambda one: one.moved_c)
    chosen = max(free, key=lambda one: one.nature.celsius or 0.0)
    if named and len(free) == 1:
        reason = "its name says so"
    elif len(temperatures) == 1:
        reason = "it is the only temperature there"
    elif len(free) == 1:
        reason = "the others have other names"
    elif moved.moved_c >= MOVED_C:
        chosen, reason = moved, f"of {len(free)} temperatures it moved most, by {moved.moved_c:.1f} °C"
    else:
        reason = f"it is the hottest of {len(free)} temperatures"
    chosen.role, chosen.reason, chosen.by_name = "paste", reason, bool(named)


def _named(place: str, candidates: Sequence[_Candidate]) -> tuple[FoundChannel, ...]:
    """The candidates with a name each, the paste first."""
    taken: set[str] = set()
    channels = []
    for one in sorted(candidates, key=lambda one: one.role != "paste")[:MOST_CHANNELS]:
        name = one.role if one.role and one.role not in taken else plain_name(place, one.quantity.path)
        free = [name, *(f"{name}-{number}" for number in range(2, MOST_CHANNELS + 2))]
        name = next(other for other in free if other not in taken and (other == one.role or not _is_part(other)))
        taken.add(name)
        reason = one.reason if name == one.role else "it is another temperature"
        nature, value = one.nature, one.quantity.latest or 0.0
        reason = f"{reason}; {nature.why}" if nature.kind == "temperature" else nature.why
        channels.append(
            FoundChannel(
                *(one.quantity.path, name, nature.unit, value, reason, nature.doubt),
                *(nature.celsius, one.moved_c, nature.named, one.by_name and name == one.role),
            )
        )
    return tuple(channels)


def _is_part(name: str) -> bool:
    """Whether a channel of this name would play a part that nobody gave it."""
    return not is_usable_unit(name, "")


def _all_columns(
    channels: Sequence[FoundChannel], left_out: Sequence[tuple[str, float, str]], shape: Shape
) -> tuple[FoundChannel, ...]:
    """The channels in the order of their columns, those between them by their number: a row is read whole."""
    known = {one.path: one for one in channels}
    why = {path: reason for path, _, reason in left_out}
    found = []
    for number in range(1, shape.width + 1):
        path = str(number)
        quantity = shape.quantities.get(path)
        value = quantity.latest if quantity is not None and quantity.latest is not None else 0.0
        reason = f"{why.get(path, 'it has no number')}, and a row is read whole"
        other = FoundChannel(path, f"column{path}", "count", value, reason, "", None, 0.0, False, False)
        found.append(known.get(path, other))
    return tuple(found)


def _with_comma_doubt(channels: tuple[FoundChannel, ...], row: str) -> tuple[FoundChannel, ...]:
    """The channels of a row; the paste with a doubt where a comma may be a decimal sign."""
    if _DECIMAL_COMMAS.fullmatch(row) is None:
        return channels
    doubt = f"{row} is read with a comma between two numbers; if it is a decimal sign, let it send a decimal point."
    return tuple(replace(one, doubt=doubt) if one.channel == "paste" else one for one in channels)


def _renaming(channel: FoundChannel, shape: Shape) -> str | None:
    """What ``--as`` must say of a channel of a pack, or None where its name and unit will do."""
    sent = shape.quantities[channel.path]
    has_unit = parse_unit(sent.unit) is not None
    if role(channel.path) == role(channel.channel) and has_unit:
        return None
    return f"{role(channel.path)}={channel.channel}{'' if has_unit else f':{channel.unit}'}"
