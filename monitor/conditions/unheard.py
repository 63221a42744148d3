"""Readings that arrive, and yet no temperature of the paste among them: a wrong name, or a unit nobody understands."""

import math

from monitor.channels import Arriving, no_paste_words, unit_words
from monitor.conditions.spells import Spell, span_words
from monitor.conditions.window import IN_POT, Tail, Window
from monitor.records import role
from monitor.units import to_celsius

NO_PASTE = "no paste temperature"
NO_DATA, NO_PASTE_DATA = "no data", "no paste data"
# The first to arrive is among the first of its channel, though packs may come out of order.
FIRST = 50
# A cook has run for two minutes, told as so many of the least silence, which is longer where a cook runs faster.
RUN_SILENCES = 8.0


def with_unheard(spells: list[Spell], window: Window) -> list[Spell]:
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
    pastes = [tail for tail in arriving if role(tail.series.channel) == "paste" and _reads(tail)]
    found = []
    if paste is not None and NO_PASTE_DATA in standing:
        others = [one for one in pastes if one.series is not paste]
        if others:
            silent = next(one for one in spells if one.name == NO_PASTE_DATA and one.ended is None)
            spells = [one for one in spells if one is not silent]
            found.append(Spell(NO_PASTE, silent.began, None, unit_words(_arriving(others[0]))))
    elif paste is not None:
        since = float(paste.known[:FIRST].min())
        if since >= told_from:
            words = f"No temperature of the paste came for {span_words(since - first)}."
            found.append(Spell(NO_PASTE, first, since, "", words))
    elif pastes or not any(name.startswith("paste probe ") for name in standing):
        lacks = no_paste_words([_arriving(tail) for tail in arriving])
        if lacks is not None:
            found.append(Spell(NO_PASTE, first, None, lacks))
    for tail in arriving:
        part = role(tail.series.channel)
        if part in IN_POT and part != "paste" and part not in window.in_pot and _reads(tail):
            found.append(Spell(f"{part} unit unknown", first, None, unit_words(_arriving(tail))))
    return [*found, *spells]


def _reads(tail: Tail) -> bool:
    """Whether the latest is a value and no fault."""
    return not math.isnan(float(tail.value[-1]))


def _arriving(tail: Tail) -> Arriving:
    series, value = tail.series, float(tail.value[-1]) if _reads(tail) else None
    celsius = None if value is None else to_celsius(value, series.unit)
    return Arriving(role(series.channel), series.sent_unit or series.unit, value, celsius)
