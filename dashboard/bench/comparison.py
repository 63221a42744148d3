"""What differed between cooks: in the sheet, in the course, in the outcome, as rows of words."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import pandas as pd

import monitor
from dashboard.components.bench_words import percent, weight
from monitor.analysis import TimeLossReport
from monitor.model import Batch, Floats, History, clear_bracket, cook_end, cook_start, span
from monitor.session import IDEAL, Cook
from monitor.storage import RecordingError

NOTHING = "–"
NO_BEGINNING = "it has no temperatures after such a beginning"
# Of what came before the beginning only the warm-up says something.
BEFORE_S = 1800.0
# What cost less than this in every cook is not told.
LEAST_LOSS_S = 60.0


@dataclass(frozen=True)
class ComparedCook:
    """A cook with its course along the common axis.

    letter: what it is called in figure and tables. course: as ``monitor.OpenedCook.aligned`` gives it, without rows
    where ``left_out`` says why it cannot be drawn so. report: its time against an ideal cook's; None where it has not
    ended.
    """

    letter: str
    title: str
    name: str
    began: float
    history: History
    course: pd.DataFrame
    report: TimeLossReport | None
    left_out: str = ""


@dataclass(frozen=True, slots=True)
class DifferenceTable:
    """rows: (what, a value for each cook), those alone in which the cooks differ. alike: how many do not."""

    heading: str
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    alike: int


def compared_cook(letter: str, path: Path, alignment: str) -> ComparedCook:
    """A recording read for a comparison, along one of ``monitor.analysis.ALIGNMENTS``. Raises RecordingError."""
    cook = Cook(path)
    course = monitor.open_cook(path).aligned(alignment)
    course = course[course.index >= -BEFORE_S]
    try:
        report, trouble = cook.ledger(IDEAL), ""
    except RecordingError as error:
        report, trouble = None, error.why
    history = cook.history()
    why = trouble or ("" if len(course) else NO_BEGINNING)
    return ComparedCook(letter, cook.title(), cook.name, history.started, history, course, report, why)


def difference_tables(cooks: Sequence[ComparedCook]) -> tuple[DifferenceTable, ...]:
    """Sheet, course, outcome and lost time of two cooks or more, next to each other."""
    batches = [cook.history.batch for cook in cooks]
    courses = [_course_facts(cook.history) for cook in cooks]
    outcomes = [_outcome_facts(cook.history) for cook in cooks]
    return (
        _table("Sheet", _sheet_rows(batches)),
        _table("Course", _rows_of(courses)),
        _table("Time lost, against an ideal cook", _loss_rows([cook.report for cook in cooks])),
        _table("Outcome", _rows_of(outcomes)),
    )


def _table(heading: str, rows: Sequence[tuple[str, tuple[str, ...]]]) -> DifferenceTable:
    different = tuple(row for row in rows if len(set(row[1])) > 1)
    return DifferenceTable(heading, different, len(rows) - len(different))


def _rows_of(facts: Sequence[dict[str, str]]) -> list[tuple[str, tuple[str, ...]]]:
    names = list(dict.fromkeys(name for one in facts for name in one))
    return [(name, tuple(one.get(name, NOTHING) for one in facts)) for name in names]


def _sheet_rows(batches: Sequence[Batch | None]) -> list[tuple[str, tuple[str, ...]]]:
    return _rows_of([{} if batch is None else _sheet_facts(batch) for batch in batches])


def _sheet_facts(batch: Batch) -> dict[str, str]:
    oils = {f"{oil.name[:1].upper()}{oil.name[1:]}": weight(oil.grams) for oil in batch.oils}
    alkali = batch.alkali
    return {
        **oils,
        "Excess wished for": percent(alkali.excess),
        "Assay of the KOH": percent(alkali.assay),
        "KOH weighed": NOTHING if alkali.grams is None else weight(alkali.grams),
        "NaOH's part": percent(alkali.naoh_share) if alkali.naoh_share else NOTHING,
        "Water in the lye": weight(batch.water_grams),
        "Glycerol": weight(batch.glycerol_grams) if batch.glycerol_grams else NOTHING,
        "Lot of the batch": batch.lot or NOTHING,
        "Lot of the KOH": alkali.lot or NOTHING,
    }


def _course_facts(history: History) -> dict[str, str]:
    start, end = cook_start(history), cook_end(history)
    if start is None:
        return {}
    until = history.as_of if end is None else end
    stirs = [event.measured for event in history.events_of("stirred") if start <= event.measured <= until]
    breaks = [start, *stirs, until]
    longest_s = max(later - earlier for earlier, later in pairwise(breaks))
    times, level_c = history.temperature_c("paste")
    inside = level_c[(times >= start) & (times <= until)]
    return {
        "Stirs": str(len(stirs)),
        "Longest without a stir": span(longest_s),
        "Paste, half of the time above": _degrees(inside, pd.Series.median),
        "Paste at its hottest": _degrees(inside, pd.Series.max),
        "Lid off": str(len(history.events_of("lid off"))),
    }


def _degrees(level_c: Floats, of: Callable[[pd.Series], float]) -> str:
    known = pd.Series(level_c).dropna()
    return f"{of(known):.0f} °C" if len(known) else NOTHING


def _outcome_facts(history: History) -> dict[str, str]:
    start, bracket = cook_start(history), clear_bracket(history)
    checks = history.events_of("checked")
    after = NOTHING if start is None or bracket is None else span(bracket[1] - start)
    finished = history.finished()
    return {
        "Clear after": after,
        "Checks": str(len(checks)),
        "Last check": str(checks[-1].fields["result"]) if checks else NOTHING,
        "Finished after": NOTHING if finished is None or start is None else span(finished - start),
    }


def _loss_rows(reports: Sequence[TimeLossReport | None]) -> list[tuple[str, tuple[str, ...]]]:
    known = [report for report in reports if report is not None]
    causes = list(dict.fromkeys(loss.cause for report in known for loss in report.losses))
    dear = [cause for cause in causes if any(abs(report.of(cause)) >= LEAST_LOSS_S for report in known)]
    rows = {
        cause: tuple(NOTHING if report is None else _signed(report.of(cause)) for report in reports) for cause in dear
    }
    return [(f"{cause[:1].upper()}{cause[1:]}", values) for cause, values in rows.items()]


def _signed(seconds: float) -> str:
    """Minutes with their sign: where the time went is not known to the second."""
    minutes = round(abs(seconds) / 60.0)
    words = f"{minutes} min" if minutes < 120 else span(60.0 * minutes)
    return f"{'−' if seconds < 0.0 and minutes else '+'}{words}"
