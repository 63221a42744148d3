"""How the batches of a kitchen turned out, as one table."""

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from monitor.analysis import OUTCOME_FIGURES, OUTCOME_WORDS, figure_text, outcome_differences, outcome_row
from monitor.model import Event, event_text
from monitor.plots import OutcomeLine, outcome_figure
from monitor.session.cook import Cook
from monitor.session.finished import is_sample
from monitor.storage import RecordingError, recordings, summary

if TYPE_CHECKING:
    import pandas as pd

# More rows nobody compares on a phone.
MOST_FIGURES = 4


def kitchen_outcomes(folder: Path) -> "pd.DataFrame":
    """A row for each batch of which it was said how it looks after its week, the latest cook first; index: its name.

    Columns: ``title``, ``look``, ``lather``, ``thickness``, ``cloudy_below_c``, ``complaints``, ``note``, and the
    figures of recipe and course: shares as mass fractions, ``clear_after_min``, ``hottest_c``, ``stirs``. Invented
    cooks and files that cannot be read are left out. Raises RecordingError where there is no such folder.
    """
    import pandas as pd

    if not folder.is_dir():
        raise RecordingError(folder, "there is no such folder")
    rows: dict[str, dict[str, object]] = {}
    for path in recordings(folder):
        try:
            cook = summary(path)
            if is_sample(cook) or not any(event.kind == "outcome" for event in cook.events):
                continue
            row = _row(path, cook.last_known, len(cook.events), cook.about.sheet)
        except RecordingError:
            continue
        if row is not None:
            rows[path.stem] = {"title": cook.title, **row}
    columns = ["title", *OUTCOME_WORDS, *OUTCOME_FIGURES]
    return pd.DataFrame(list(rows.values()), index=pd.Index(list(rows), name="name", dtype="str"), columns=columns)


@lru_cache(maxsize=512)
def _row(path: Path, _last_known: float, _events: int, _sheet: str | None) -> dict[str, object] | None:
    return outcome_row(Cook(path).history())


def outcome_words(row: Mapping[Any, Any]) -> str:
    """What was said of one batch of the table, in one line."""
    said = {name: value for name in OUTCOME_WORDS if (value := row[name]) is not None and value == value}
    return event_text(Event("", "outcome", 0.0, 0.0, said))


def outcomes_picture(outcomes: "pd.DataFrame", *, title: str = "", dark: bool = False) -> Any:
    """Draws in what the clear batches lie farthest from the others; None where there are too few batches."""
    lines = []
    for one in outcome_differences(outcomes.to_dict("records"))[:MOST_FIGURES]:
        every = [*one.clear, *one.others]
        low, high, clear, others = (figure_text(one.column, at) for at in (min(every), max(every), *one.medians))
        words = OUTCOME_FIGURES[one.column][0]
        lines.append(OutcomeLine(words, one.clear, one.others, low, high, (clear, others)))
    return outcome_figure(lines, title=title, dark=dark) if lines else None
