"""The alarm of readings that hold no paste temperature: a wrong channel name, or a unit that is not understood."""

import math

from monitor.alarms.intervals import AlarmInterval, duration_text
from monitor.alarms.window import IN_POT, ChannelWindow, Window
from monitor.model import (
    NEAR_BOIL_C,
    ArrivingChannel,
    is_temperature,
    missing_paste_text,
    role,
    to_celsius,
    unit_problem_text,
)

NO_PASTE = "no paste temperature"
NO_DATA, NO_PASTE_DATA = "no data", "no paste data"
# The first reading to arrive is among this many of its channel, though packs may come out of order.
FIRST = 50
# The alarm waits for two minutes of the cook: this many shortest silences, which are longer where a cook runs faster.
# One minute has to do where what arrives may be a paste about to boil over.
RUN_SILENCES, HOT_RUN_SILENCES = 8.0, 4.0


def with_paste_channel_alarms(alarms: list[AlarmInterval], window: Window) -> list[AlarmInterval]:
    """The other alarms of the probes, with those of a paste channel that is missing or not understood.

    A trouble raises a single alarm: silence and a probe that sends only faults raise others; a paste that falls silent
    because its readings go on in another unit raises this one.
    """
    names = {one.name for one in alarms if one.ended is None}
    starts = [float(one.known[:FIRST].min()) for one in window.history.series.values() if len(one)]
    arriving = [channel for channel in window.channels.values() if channel.fresh]
    if not starts or NO_DATA in names:
        return alarms
    first = min(starts)
    hot = any(_may_be_boiling_paste(channel, window) for channel in arriving)
    told_from = first + (HOT_RUN_SILENCES if hot else RUN_SILENCES) * window.silence_s
    if window.now < told_from:
        return alarms
    paste = window.in_pot.get("paste")
    pastes = [channel for channel in arriving if role(channel.series.channel) == "paste"]
    fault_told = any(name.startswith("paste probe ") for name in names)
    own = []
    if paste is not None and NO_PASTE_DATA in names:
        alarms = _not_silent(alarms, pastes, fault_told=fault_told)
    elif paste is not None and len(paste.known):
        since = float(paste.known[:FIRST].min())
        if since >= told_from:
            text = f"No temperature of the paste came for {duration_text(since - first)}."
            own.append(AlarmInterval(NO_PASTE, first, since, "", text))
    elif any(_reads(channel) for channel in pastes) or not fault_told:
        lacks = missing_paste_text([_arriving(channel) for channel in arriving])
        if lacks is not None:
            own.append(AlarmInterval(NO_PASTE, first, None, lacks))
    for channel in arriving:
        part = role(channel.series.channel)
        if part in IN_POT and part != "paste" and part not in window.in_pot and _reads(channel):
            own.append(AlarmInterval(f"{part} unit unknown", first, None, unit_problem_text(_arriving(channel))))
    return [*own, *alarms]


def _not_silent(alarms: list[AlarmInterval], pastes: list[ChannelWindow], *, fault_told: bool) -> list[AlarmInterval]:
    """The alarms without that of a silent paste, where it does send readings in a unit that is no temperature."""
    others = [channel for channel in pastes if not is_temperature(channel.series.unit)]
    silent = next(one for one in alarms if one.name == NO_PASTE_DATA and one.ended is None)
    rest = [one for one in alarms if one is not silent]
    reading = next((channel for channel in others if _reads(channel)), None)
    if reading is not None:
        return [AlarmInterval(NO_PASTE, silent.began, None, unit_problem_text(_arriving(reading))), *rest]
    # A fault may come without the unit that readings come in.
    return rest if others and fault_told else alarms


def _may_be_boiling_paste(channel: ChannelWindow, window: Window) -> bool:
    """Whether the channel, which plays no understood part in the pot, reads as high as a paste near its boil."""
    if role(channel.series.channel) in window.in_pot or not _reads(channel):
        return False
    arriving = _arriving(channel)
    # A number in an unknown unit, or in none, may be degC.
    reading = arriving.value if arriving.celsius is None else arriving.celsius
    return reading is not None and reading >= NEAR_BOIL_C


def _reads(channel: ChannelWindow) -> bool:
    """Whether the latest reading is a value and no fault."""
    return not math.isnan(float(channel.value[-1]))


def _arriving(channel: ChannelWindow) -> ArrivingChannel:
    series, value = channel.series, float(channel.value[-1]) if _reads(channel) else None
    celsius = None if value is None else to_celsius(value, series.unit)
    return ArrivingChannel(role(series.channel), series.sent_unit or series.unit, value, celsius)
