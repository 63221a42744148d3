"""A cook in the list: its line, and whether it has the words that somebody looks for."""

from collections.abc import Sequence

from monitor.model import local, span
from monitor.session.batch_standing import standing
from monitor.session.outcome import outcome
from monitor.storage import CookSummary, read_batch


def summary_line(cook: CookSummary, now: float, *, left: bool = False) -> str:
    """A cook in one line. now: Unix seconds. left: whether it was left unfinished while another went on."""
    length = span(cook.last_known - cook.about.started)
    began = f"{local(cook.about.started):%d %b %Y %H:%M}"
    stands = standing(cook.events, now)
    words = "left unfinished" if left else f"{outcome(cook)}{f', {stands}' if stands else ''}"
    return f"{cook.path.stem}  {began}  {length:>11}  {words:<28}  {cook.title}"


def matches(cook: CookSummary, words: Sequence[str]) -> bool:
    """Whether a cook has every one of these words: in its title, oils, lots, date, outcome, notes or name.

    Capitals do not matter; a part of a word will do.
    """
    if not words:
        return True
    text = _text(cook)
    return all(word.casefold() in text for word in words)


def _text(cook: CookSummary) -> str:
    batch = read_batch(cook.about.sheet)
    oils = [f"{oil.name} {oil.lot}" for oil in batch.oils] if batch else []
    notes = [str(value) for event in cook.events if event.kind == "note" for value in event.fields.values()]
    began = f"{local(cook.about.started):%Y-%m-%d %d %B %Y %A}"
    return "\n".join([cook.title, cook.path.stem, cook.about.rig, began, outcome(cook), *oils, *notes]).casefold()
