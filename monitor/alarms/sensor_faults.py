"""The alarms of the probes and the line: open, shorted, stuck, jumped, silent, and none that tells of the paste."""

import math
from bisect import bisect_left

import numpy as np

from monitor.alarms.intervals import AlarmInterval, Exceedance, debounce, duration_text
from monitor.alarms.stuck_sensor import stuck_sensor_alarms
from monitor.alarms.window import IN_POT, ChannelWindow, Window, median
from monitor.model import (
    NEAR_BOIL_C,
    PASTE_AT_LEAST_C,
    PASTE_AT_MOST_C,
    ArrivingChannel,
    Floats,
    Series,
    is_temperature,
    missing_paste_text,
    role,
    to_celsius,
    unit_problem_text,
)

# A connector that crackles once is not open.
FAULT_ON_S, FAULT_OFF_S = 5.0, 15.0
# Silence: this many usual intervals; of one channel while others speak, this many of the shortest silence.
SILENT_READINGS = 4.0
LATEST_STEPS = 240
CHANNEL_SILENCES = 2.0
# No pot changes faster than this from one reading to the next, not even with a probe that is pulled out.
JUMP_C, JUMP_C_PER_S = 8.0, 0.5
JUMP_STANDS_S = 120.0
# Near these the person has the lid off and may move the probes.
HANDS_ON = ("lid on", "lid off", "stirred", "checked", "looked", "added", "water added", "neutraliser added")
HANDS_ON_S = 300.0
NO_PASTE = "no paste temperature"
NO_DATA, NO_PASTE_DATA = "no data", "no paste data"
# The first reading to arrive is among this many of its channel, though packs may come out of order.
FIRST = 50
# The alarm waits for two minutes of the cook: this many shortest silences, which are longer where a cook runs faster.
# One minute has to do where what arrives may be a paste about to boil over.
RUN_SILENCES, HOT_RUN_SILENCES = 8.0, 4.0


def sensor_fault_alarms(window: Window) -> list[AlarmInterval]:
    """Every alarm interval of the probes, the gravest kind first."""
    alarms = _silence(window)
    inside = list(window.inside.values())
    # A calm probe has no fault, and whether one in the pot is calm has to be known anyway.
    for channel in window.channels.values():
        if channel not in inside or not channel.calm:
            alarms += _faults(channel)
    alarms += [alarm for channel in inside for alarm in _jumps(channel, window)]
    alarms += [alarm for channel in inside for alarm in stuck_sensor_alarms(channel)]
    return _with_paste_channel_alarms(alarms, window)


def _silence(window: Window) -> list[AlarmInterval]:
    """The intervals without any data, and the probes in the pot that are silent while others speak."""
    now = window.now
    # Arrivals alone tell whether anything comes: what a reading says of its own time must not hide a silence.
    arrivals = [_latest(one.known, now) for one in window.history.series.values()]
    latest = max([window.history.started, *arrivals])
    busiest = max(window.channels.values(), key=len, default=None)
    limit_s = window.silence_s
    alarms = []
    if busiest is not None:
        arrived = np.sort(busiest.known)
        steps = arrived[1:] - arrived[:-1]
        apart = steps[-LATEST_STEPS:]
        # Packs that come many at a time count by the batch.
        apart = apart[apart > 0.0] if len(apart) and apart.min() <= 0.0 else apart
        if len(apart):
            limit_s = max(window.silence_s, SILENT_READINGS * median(apart))
        longest_s = float(steps.max(initial=0.0))
        for place in np.flatnonzero(steps > limit_s).tolist() if longest_s > limit_s else ():
            text = f"No data came for {duration_text(float(steps[place]))}."
            alarms.append(AlarmInterval("no data", float(arrived[place]), float(arrived[place + 1]), "", text))
    if now - latest >= limit_s:
        text = f"No data for {duration_text(now - latest)}: look at the cable, the power and the logger."
        alarms.append(AlarmInterval("no data", latest, None, text))
        return alarms
    least_s = max(CHANNEL_SILENCES * window.silence_s, limit_s)
    for part, whole in window.in_pot.items():
        last = _latest_arrival(whole, now)
        if now - last < least_s:
            continue
        own_limit_s = max(least_s, SILENT_READINGS * window.inside[part].interval_s if part in window.inside else 0.0)
        if now - last >= own_limit_s and math.isfinite(own_limit_s - last):
            text = f"The {part} probe has said nothing for {duration_text(now - last)}, others have: look at its plug."
            alarms.append(AlarmInterval(f"no {part} data", last, None, text))
    return alarms


def _latest(known: Floats, now: float) -> float:
    """The latest of these moments up to ``now``; minus infinity for none."""
    latest = float(known.max(initial=-math.inf))
    return latest if latest <= now else float(known.max(initial=-math.inf, where=known <= now))


def _latest_arrival(series: Series, now: float) -> float:
    """When the reading that was measured last arrived, Unix seconds, of those known at ``now``.

    A reading that arrives late says nothing new of the probe, nor does one that is sent again and again.
    """
    measured, known = series.measured, series.known
    there = known <= now
    if not there.all():
        measured, known = measured[there], known[there]
    return float(known[int(np.searchsorted(measured, measured[-1]))]) if len(known) else -math.inf


def _faults(channel: ChannelWindow) -> list[AlarmInterval]:
    """The intervals in which a channel sent faults."""
    # A sum has no number where one of its parts has none.
    if not math.isnan(float(channel.value.sum())):
        return []
    bad = np.isnan(channel.value)
    plain = role(channel.series.channel)
    alarms = []
    for exceeded in debounce(channel.at, bad, ~bad, FAULT_ON_S, FAULT_OFF_S, channel.now):
        sent = _fault_text(channel, exceeded)
        what = "open" if "open" in sent else "shorted" if "short" in sent else "fault"
        text = f"The {plain} probe says “{sent}”: look at its plug and its tip."
        over = f"The {plain} probe said “{sent}” and reads again."
        alarms.append(AlarmInterval(f"{plain} probe {what}", exceeded.began, exceeded.ended, text, over))
    return alarms


def _fault_text(channel: ChannelWindow, exceeded: Exceedance) -> str:
    """The text of the latest fault of an exceedance, as the probe's converter sent it."""
    faults = channel.series.faults
    last = len(channel) if exceeded.ended is None else int(np.searchsorted(channel.at, exceeded.ended))
    place = bisect_left(faults, (channel.first + last,)) - 1
    return faults[place][1] if place >= 0 else "fault"


def _hands_off(window: Window, moment: float) -> float | None:
    """When a person with hands on the pot at this moment was surely done, Unix seconds; None where there was nobody."""
    near = [
        event.measured
        for event in window.history.events
        if event.kind in HANDS_ON and abs(event.measured - moment) <= HANDS_ON_S
    ]
    return max(near) + HANDS_ON_S if near else None


def _jumps(channel: ChannelWindow, window: Window) -> list[AlarmInterval]:
    """The intervals after a change that no pot makes, or of a value that no pot has."""
    if channel.calm:
        return []
    value, at = channel.celsius, channel.at
    beyond = (value < PASTE_AT_LEAST_C) | (value > PASTE_AT_MOST_C)
    good = ~np.isnan(value)
    value, at, beyond = value[good], at[good], beyond[good]
    start = window.start
    if start is None:
        return []
    jumped = np.abs(np.diff(value)) > JUMP_C + JUMP_C_PER_S * np.diff(at)
    signs = np.union1d(np.flatnonzero(jumped) + 1, np.flatnonzero(beyond))
    signs = signs[at[signs] >= start + 60.0]
    plain = role(channel.series.channel)
    alarms: list[AlarmInterval] = []
    for group in np.split(signs, np.flatnonzero(np.diff(at[signs]) > JUMP_STANDS_S) + 1):
        if not len(group):
            continue
        hands_off = None if beyond[group].any() else _hands_off(window, float(at[group[0]]))
        if hands_off is not None:
            alarms += _not_put_back(channel, at, value, int(group[0]), hands_off)
            continue
        place, over_at = int(group[0]), float(at[group[-1]]) + JUMP_STANDS_S
        over = f"The {plain} probe jumped from {value[max(place - 1, 0)]:.0f} to {value[place]:.0f} °C at once."
        text = f"{over[:-1]}, faster than any pot: look at its plug, its tip and where its cable runs."
        ended = over_at if over_at <= channel.now else None
        alarms.append(AlarmInterval(f"{plain} probe jumped", float(at[place]), ended, text, over))
    return alarms


def _not_put_back(
    channel: ChannelWindow, at: Floats, value: Floats, place: int, hands_off: float
) -> list[AlarmInterval]:
    """A probe that fell at once while hands were on the pot, and was not put back."""
    level_c = float(value[place - 1]) - JUMP_C
    later, then = value[at >= hands_off], at[at >= hands_off]
    if not len(later) or later[0] >= level_c:
        return []
    back = np.flatnonzero(later >= level_c)
    plain = role(channel.series.channel)
    over = f"The {plain} probe fell from {value[place - 1]:.0f} to {value[place]:.0f} °C at once and stayed there."
    text = f"{over[:-1]}: is its tip where it was?"
    return [
        AlarmInterval(
            f"{plain} probe jumped", float(at[place]), float(then[back[0]]) if len(back) else None, text, over
        )
    ]


def _with_paste_channel_alarms(alarms: list[AlarmInterval], window: Window) -> list[AlarmInterval]:
    """The other alarms of the probes, with those of a paste channel that is missing or not understood.

    A trouble raises a single alarm: silence and a probe that sends only faults raise others; a paste that falls silent
    because its readings go on in another unit raises this one.
    """
    names = {one.name for one in alarms if one.ended is None}
    starts = [float(one.known[:FIRST].min()) for one in window.history.series.values() if len(one.known)]
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
    # In no unit used here is a temperature a smaller number than in degC.
    if role(channel.series.channel) in window.in_pot or not float(channel.value[-1]) >= NEAR_BOIL_C:
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
