"""A cook's line on the page of past cooks."""

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from monitor.storage import CookSummary, RecordingError


@dataclass(frozen=True, slots=True)
class CookLine:
    """A line of the list.

    name: as addresses use it. began: Unix seconds, None for a file that cannot be read. details: in words. running:
    whether the cook is under way. left: whether it was left unfinished while a later one runs on its cooker.
    """

    name: str
    title: str
    began: int | None
    details: str
    running: bool = False
    left: bool = False


def line_of(entry: CookSummary | RecordingError, under_way: Collection[Path] = ()) -> CookLine:
    """The line of a cook, or of a file that cannot be read. under_way: the recordings of the running cooks."""
    if isinstance(entry, RecordingError):
        return CookLine(entry.path.stem, entry.path.name, None, f"Cannot be read: {entry.why}.")
    checks = [event.fields["result"] for event in entry.events if event.kind == "checked"]
    last = f"last check {checks[-1]}" if checks else "never checked"
    running = entry.finished is None and entry.path in under_way
    left = entry.finished is None and not running
    state = "still running" if running else "left unfinished: finish or delete it" if left else "finished"
    minutes = max(0, round(((entry.finished or entry.last_known) - entry.about.started) / 60))
    length = f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{minutes} min"
    notes = sum(event.kind == "note" for event in entry.events)
    photos = sum(bool(event.fields.get("photo")) for event in entry.events)
    told = [f"{n} {word}{'s' if n > 1 else ''}" for n, word in ((notes, "note"), (photos, "photograph")) if n]
    words = ", ".join([length, state, last, *told])
    return CookLine(entry.path.stem, entry.title, round(entry.about.started), words, running, left)
