"""Readings that arrive, and yet no temperature of the paste among them: a wrong name, or a unit nobody understands."""

import math

from monitor.alarms.intervals import AlarmInterval, duration_text
from monitor.alarms.window import IN_POT, ChannelWindow, Window
from monitor.model import ArrivingChannel, is_temperature, missing_paste_text, role, to_celsius, unit_problem_text

NO_PASTE = "no paste temperature"
NO_DATA, NO_PASTE_DATA = "no data", "no paste data"
# The first to arrive is among the first of its channel, though packs may come out of order.
FIRST = 50
# A cook has run for two minutes, told as so many of the least silence, which is longer where a cook runs faster.
RUN_SILENCES = 8.0


def with_unheard(spells: list[AlarmInterval], window: Window) -> list[AlarmInterval]:
    """The probes' other spells, with what arrives unheard.

    One trouble is told once: silence, and a probe that says faults alone, are told by the others; that the paste falls
    silent because its readings go on in a unit nobody understands is told here.
    """
    standing = {one.name for one in spells if one.ended is None}
    starts = [float(one.known[:FIRST].min()) for one in window.history.series.values() if len(one)]
    arriving = [tail for tail in window.tails.values() if tail.fresh]
    if not starts or NO_DATA in standing:
        return spells
    first = min(starts)
    told_from = first + RUN_SILENCES * window.silence_s
    if window.now < told_from:
        return spells
    paste = window.in_pot.get("paste")
    pastes = [tail for tail in arriving if role(tail.series.channel) == "paste"]
    fault_told = any(name.startswith("paste probe ") for name in standing)
    found = []
    if paste is not None and NO_PASTE_DATA in standing:
        spells = _not_silent(spells, pastes, fault_told=fault_told)
    elif paste is not None and len(paste.known):
        since = float(paste.known[:FIRST].min())
        if since >= told_from:
            words = f"No temperature of the paste came for {duration_text(since - first)}."
            found.append(AlarmInterval(NO_PASTE, first, since, "", words))
    elif any(_reads(tail) for tail in pastes) or not fault_told:
        lacks = missing_paste_text([_arriving(tail) for tail in arriving])
        if lacks is not None:
            found.append(AlarmInterval(NO_PASTE, first, None, lacks))
    for tail in arriving:
        part = role(tail.series.channel)
        if part in IN_POT and part != "paste" and part not in window.in_pot and _reads(tail):
            found.append(AlarmInterval(f"{part} unit unknown", first, None, unit_problem_text(_arriving(tail))))
    return [*found, *spells]


def _not_silent(spells: list[AlarmInterval], pastes: list[ChannelWindow], *, fault_told: bool) -> list[AlarmInterval]:
    """The spells, of which one says that the paste is silent, where it does speak, but not in a unit of temperature."""
    others = [tail for tail in pastes if not is_temperature(tail.series.unit)]
    silent = next(one for one in spells if one.name == NO_PASTE_DATA and one.ended is None)
    rest = [one for one in spells if one is not silent]
    reading = next((tail for tail in others if _reads(tail)), None)
    if reading is not None:
        return [AlarmInterval(NO_PASTE, silent.began, None, unit_problem_text(_arriving(reading))), *rest]
    # A fault may come without the unit that readings come in.
    return rest if others and fault_told else spells


def _reads(tail: ChannelWindow) -> bool:
    """Whether the latest is a value and no fault."""
    return not math.isnan(float(tail.value[-1]))


def _arriving(tail: ChannelWindow) -> ArrivingChannel:
    series, value = tail.series, float(tail.value[-1]) if _reads(tail) else None
    celsius = None if value is None else to_celsius(value, series.unit)
    return ArrivingChannel(role(series.channel), series.sent_unit or series.unit, value, celsius)
