"""What the channels that arrive lack for a cook to be watched, in words. Without numpy, for the logger's sake."""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.model.records import role
from monitor.model.units import (
    TEMPERATURES,
    allowed_units,
    is_temperature,
    is_usable_unit,
    parse_unit,
    to_celsius,
    unit_text,
)

MOST_NAMED, LONGEST_NAME = 4, 40
# From here on a paste foams up (judgement).
NEAR_BOIL_C = 99.0


@dataclass(frozen=True, slots=True)
class ArrivingChannel:
    """A channel that arrives. unit: the sender's word. value: the latest; celsius: in degC, if it is a temperature.

    Both are None at a fault.
    """

    channel: str
    unit: str
    value: float | None
    celsius: float | None

    def text(self) -> str:
        """What a person is told of it.

        >>> arriving_channel("temp1", "F", 217.4).text(), arriving_channel("x", "", 103.0).text()
        ('temp1 in F (103 °C)', 'x without a unit (103)')
        """
        value = "" if self.value is None else f" ({self.value:.4g})"
        if self.celsius is not None:
            value = f" ({self.celsius:.0f} °C)"
        return f"{self.channel[:LONGEST_NAME]} {unit_text(self.unit)}{value}"


def arriving_channel(channel: str, sent_unit: str, sent: float | None) -> ArrivingChannel:
    """A channel that arrives, by what was sent."""
    return ArrivingChannel(role(channel), sent_unit, sent, None if sent is None else to_celsius(sent, sent_unit))


def missing_paste_text(channels: Sequence[ArrivingChannel]) -> str | None:
    """Why these channels do not tell the paste's temperature and what to do, in one sentence; None where they do."""
    pastes = [one for one in channels if role(one.channel) == "paste"]
    if any(is_usable_unit("paste", one.unit) for one in pastes):
        return None
    if pastes:
        return unit_problem_text(pastes[0])
    if not channels:
        return "No channel is called paste, and no other arrives: look at the cable and the rig."
    come = _listed([one.text() for one in channels])
    one = _may_be_paste(channels)
    unit = "" if is_temperature(one.unit) else ":Cel"
    name = f"if {one.channel} is the paste, "
    if one.celsius is not None and one.celsius >= NEAR_BOIL_C:
        name += "it is near boiling over: turn the heat down, and "
    arrive = "arrives" if len(channels) == 1 else "arrive"
    return f"No channel is called paste; {come} {arrive}: {name}start again with --as {role(one.channel)}=paste{unit}."


def unit_problem_text(one: ArrivingChannel) -> str:
    """What is wrong with the unit of a channel that plays a part, and what to do, in one sentence."""
    part = role(one.channel)
    known = parse_unit(one.unit)
    if part in TEMPERATURES and known is not None and known.symbol in ("V", "mV"):
        return (
            f"The {part} arrives {unit_text(one.unit)}: tell its thermocouple's type with kettleside calibrate fitting."
        )
    value = "" if one.value is None else f", {one.value:.4g} at the latest"
    unit = f"--as {part}={part}:{'Cel' if part in TEMPERATURES else 'V'}"
    return (
        f"The {part} arrives {unit_text(one.unit)}{value}, and a {part} is read in {allowed_units(part)}: send one of "
        f"these, or start again with its unit, such as {unit}."
    )


def unit_problem_texts(channels: Sequence[ArrivingChannel]) -> list[str]:
    """A sentence for each channel that plays a part other than the paste's in a unit that does not serve it."""
    return [
        unit_problem_text(one)
        for one in channels
        if role(one.channel) != "paste" and not is_usable_unit(role(one.channel), one.unit)
    ]


def _may_be_paste(channels: Sequence[ArrivingChannel]) -> ArrivingChannel:
    """The channel that may be the paste: the hottest that has no other part, else the hottest, else the first."""
    hottest = sorted(channels, key=lambda one: -(one.celsius if one.celsius is not None else -300.0))
    free = [one for one in hottest if role(one.channel) not in TEMPERATURES and role(one.channel) != "ph"]
    return (free or hottest)[0]


def _listed(words: Sequence[str]) -> str:
    """In a sentence.

    >>> _listed(["a", "b", "c"]), _listed(["a", "b", "c", "d", "e"])
    ('a, b and c', 'a, b, c, d and 1 more')
    """
    named = [*words[:MOST_NAMED], *([f"{len(words) - MOST_NAMED} more"] if len(words) > MOST_NAMED else [])]
    return named[0] if len(named) == 1 else f"{', '.join(named[:-1])} and {named[-1]}"
