"""What the channels that arrive lack for a cook to be watched, in sentences.

Loads no numpy, because the logger reads it.
"""

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
# From this temperature on, degC, a paste may foam up over the rim; a sound one stays truly under it (judgement).
NEAR_BOIL_C = 99.0


@dataclass(frozen=True, slots=True)
class ArrivingChannel:
    """A channel that arrives.

    unit: the sender's word. value: the latest, as it was sent. celsius: the same in degC, where it is a temperature.
    Both are None at a fault.
    """

    channel: str
    unit: str
    value: float | None
    celsius: float | None

    def text(self) -> str:
        """The channel with its unit and latest value, for a sentence.

        >>> arriving_channel("temp1", "F", 217.4).text(), arriving_channel("x", "", 103.0).text()
        ('temp1 in F (103 °C)', 'x without a unit (103)')
        """
        value = "" if self.value is None else f" ({self.value:.4g})"
        if self.celsius is not None:
            value = f" ({self.celsius:.0f} °C)"
        return f"{self.channel[:LONGEST_NAME]} {unit_text(self.unit)}{value}"


def arriving_channel(channel: str, sent_unit: str, sent: float | None) -> ArrivingChannel:
    """The channel of this name, with the unit and the value that were sent."""
    return ArrivingChannel(role(channel), sent_unit, sent, None if sent is None else to_celsius(sent, sent_unit))


def missing_paste_text(channels: Sequence[ArrivingChannel]) -> str | None:
    """Why no channel tells the paste's temperature, and what to do, in one sentence; None where one does."""
    pastes = [one for one in channels if role(one.channel) == "paste"]
    if any(is_usable_unit("paste", one.unit) for one in pastes):
        return None
    if pastes:
        return unit_problem_text(pastes[0])
    if not channels:
        return "No channel is called paste, and no other arrives: look at the cable and the rig."
    arriving = _listed([one.text() for one in channels])
    candidate = _likely_paste(channels)
    unit = "" if is_temperature(candidate.unit) else ":Cel"
    name = f"if {candidate.channel} is the paste, "
    if candidate.celsius is not None and candidate.celsius >= NEAR_BOIL_C:
        name += "it is near boiling over: turn the heat down, and "
    arrive = "arrives" if len(channels) == 1 else "arrive"
    option = f"--as {role(candidate.channel)}=paste{unit}"
    return f"No channel is called paste; {arriving} {arrive}: {name}start again with {option}."


def unit_problem_text(channel: ArrivingChannel) -> str:
    """What is wrong with the unit of a channel that plays a part, and what to do, in one sentence."""
    part = role(channel.channel)
    known = parse_unit(channel.unit)
    arrival = f"The {part} arrives {unit_text(channel.unit)}"
    if part in TEMPERATURES and known is not None and known.symbol in ("V", "mV"):
        return f"{arrival}: tell its thermocouple's type with kettleside calibrate fitting."
    value = "" if channel.value is None else f", {channel.value:.4g} at the latest"
    unit = f"--as {part}={part}:{'Cel' if part in TEMPERATURES else 'V'}"
    return (
        f"{arrival}{value}, and a {part} is read in {allowed_units(part)}: send one of "
        f"these, or start again with its unit, such as {unit}."
    )


def unit_problem_texts(channels: Sequence[ArrivingChannel]) -> list[str]:
    """A sentence for each channel that plays a part other than the paste's in a unit that does not serve it."""
    return [
        unit_problem_text(one)
        for one in channels
        if role(one.channel) != "paste" and not is_usable_unit(role(one.channel), one.unit)
    ]


def _likely_paste(channels: Sequence[ArrivingChannel]) -> ArrivingChannel:
    """The channel that may be the paste: the hottest that has no other part, else the hottest, else the first."""
    hottest = sorted(channels, key=lambda one: -(one.celsius if one.celsius is not None else -300.0))
    free = [one for one in hottest if role(one.channel) not in TEMPERATURES and role(one.channel) != "ph"]
    return (free or hottest)[0]


def _listed(words: Sequence[str]) -> str:
    """The items of a list as a sentence has them, at most four by name.

    >>> _listed(["a", "b", "c"]), _listed(["a", "b", "c", "d", "e"])
    ('a, b and c', 'a, b, c, d and 1 more')
    """
    named = [*words[:MOST_NAMED], *([f"{len(words) - MOST_NAMED} more"] if len(words) > MOST_NAMED else [])]
    return named[0] if len(named) == 1 else f"{', '.join(named[:-1])} and {named[-1]}"
