"""What is wrong with the cook or its probes, from the history alone."""

import math

import numpy as np

from monitor.history import Floats, History, cook_start
from monitor.progress.outlook import Condition
from monitor.records import role

# A probe that has said nothing for this long is worth a person's look.
SILENT_S = 15.0
# Below this the soap hardly goes on (judgement); a cook is given this long to warm up.
COLD_C = 70.0
WARM_UP_S = 3600.0
COLD_FOR_S = 300.0
UNACKNOWLEDGED = "unacknowledged"


def conditions(history: History, now: float) -> tuple[Condition, ...]:
    """Every condition that stands at ``now`` (Unix seconds), the gravest first."""
    found = [*_no_data(history, now), *_open_probes(history), *_cold(history, now)]
    return tuple(found)


def _no_data(history: History, now: float) -> list[Condition]:
    if history.finished() is not None:
        return []
    latest = max((float(s.known.max()) for s in history.series.values()), default=history.started)
    silent_s = now - latest
    if silent_s < SILENT_S:
        return []
    words = f"No data for {_duration(silent_s)}: look at the cable, the power and the logger."
    return [Condition("no data", UNACKNOWLEDGED, latest, words)]


def _open_probes(history: History) -> list[Condition]:
    found = []
    for name, series in history.series.items():
        if not series.faults or not math.isnan(series.value[-1]):
            continue
        good = np.flatnonzero(~np.isnan(series.value))
        first = int(good[-1]) + 1 if len(good) else 0
        words = dict(series.faults).get(len(series) - 1, "fault")
        plain = role(name)
        found.append(
            Condition(
                f"{plain} probe {'open' if 'open' in words else 'fault'}",
                UNACKNOWLEDGED,
                float(series.measured[first]),
                f"The {plain} probe says “{words}”: look at its plug and its tip.",
            )
        )
    return found


def _cold(history: History, now: float) -> list[Condition]:
    start = cook_start(history)
    if start is None or now - start < WARM_UP_S or history.events_of("heat off", "finished"):
        return []
    times, temperatures = history.temperature_c("paste")
    since = _cold_since(times, temperatures, start + WARM_UP_S)
    if since is None or now - since < COLD_FOR_S:
        return []
    latest = temperatures[~np.isnan(temperatures)][-1]
    words = f"The paste is cold, {latest:.0f} °C: look at the cooker's switch and lid."
    return [Condition("paste cold", UNACKNOWLEDGED, since, words)]


def _cold_since(times: Floats, temperatures: Floats, not_before: float) -> float | None:
    good = ~np.isnan(temperatures) & (times >= not_before)
    if not good.any():
        return None
    at, level = times[good], temperatures[good]
    warm = np.flatnonzero(level >= COLD_C)
    if len(warm) and warm[-1] == len(level) - 1:
        return None
    return float(at[warm[-1] + 1] if len(warm) else at[0])


def _duration(seconds: float) -> str:
    if seconds < 120:
        return f"{seconds:.0f} s"
    if seconds < 7200:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / 3600:.0f} h"
