"""The course of a cook in one sentence and as a table."""

from collections.abc import Iterator

import numpy as np
import pandas as pd

from monitor.estimation import Estimate
from monitor.plots.channels import clock, unix_s
from monitor.plots.course_marks import event_words
from monitor.plots.course_window import CourseTemperature, CourseWindow
from monitor.plots.hill import clear_sentence

# The table has the temperature this often, s.
EVERY_S = 900.0


def course_sentence(
    paste: CourseTemperature, events: pd.DataFrame, estimate: Estimate | None, window: CourseWindow, zone: str
) -> str:
    """What a person takes from the strip at a glance."""
    waiting = estimate is not None and estimate.elapsed_s is None
    parts = ["the cook has not begun" if waiting else f"the cook began at {clock(window.start, zone)}"]
    read = paste.level_c[np.isfinite(paste.level_c)]
    if len(read) and window.now is not None:
        parts.append(f"the paste read {read[-1]:.0f} °C at {clock(window.now, zone)}")
    elif len(read):
        parts.append(f"the paste was {read.min():.0f} to {read.max():.0f} °C")
    moments = unix_s(events.index)
    inside = events[(moments >= window.begin) & (moments <= window.end)]
    stirs, checks = int((inside["kind"] == "stirred").sum()), inside[inside["kind"] == "checked"]
    parts.append(f"{stirs} stir{'' if stirs == 1 else 's'}")
    if len(checks):
        last = f"the last, at {clock(float(unix_s(checks.index)[-1]), zone)}, read {checks['result'].iloc[-1]}"
        parts.append(f"{len(checks)} check{'' if len(checks) == 1 else 's'}, {last}")
    if paste.gaps:
        parts.append(f"readings are missing in {len(paste.gaps)} place{'' if len(paste.gaps) == 1 else 's'}")
    if estimate is not None and window.now is not None and estimate.clear_density.edges:
        sentence = clear_sentence(estimate, zone).removesuffix(".")
        parts.append(sentence[0].lower() + sentence[1:])
    return f"Course of the cook: {'; '.join(parts)}."


def course_rows(
    paste: CourseTemperature,
    events: pd.DataFrame,
    estimate: Estimate | None,
    troubles: pd.DataFrame | None,
    window: CourseWindow,
    zone: str,
) -> list[list[str]]:
    """Time, what and value of what is drawn, in the order of time."""
    rows = [
        *_temperature_rows(paste),
        *_event_rows(events, window),
        *((begin, "no readings", f"until {clock(end, zone)}") for begin, end in paste.gaps),
    ]
    if troubles is not None:
        rows += [
            (begin.timestamp(), str(cause), "" if pd.isna(end) else f"until {clock(end.timestamp(), zone)}")
            for cause, begin, end in zip(troubles["cause"], troubles["begin"], troubles["end"], strict=True)
        ]
    if estimate is not None and window.now is not None:
        rows += _expected_rows(estimate)
    return [[clock(moment, zone), what, value] for moment, what, value in sorted(rows, key=lambda row: row[0])]


def _temperature_rows(paste: CourseTemperature) -> Iterator[tuple[float, str, str]]:
    every = max(1, round(EVERY_S / paste.step_s))
    for moment, level in zip(paste.moments[::every].tolist(), paste.level_c[::every].tolist(), strict=True):
        if np.isfinite(level):
            yield moment, "paste", f"{level:.0f} °C"


def _event_rows(events: pd.DataFrame, window: CourseWindow) -> Iterator[tuple[float, str, str]]:
    for moment, (_, row) in zip(unix_s(events.index).tolist(), events.iterrows(), strict=True):
        if window.holds(moment):
            kind, _, told = event_words(row).partition(": ")
            yield moment, kind, told


def _expected_rows(estimate: Estimate) -> Iterator[tuple[float, str, str]]:
    if estimate.clear_density.edges:
        words = ("1 chance in 10 of clear by then", "as likely clear as not", "9 chances in 10 of clear by then")
        for moment, value in zip(estimate.clear_at, words, strict=True):
            if moment is not None:
                yield moment, "clear time", value
    for moment, what in ((estimate.stir_due, "stir due"), (estimate.check_due, "check planned")):
        if moment is not None:
            yield moment, what, ""
