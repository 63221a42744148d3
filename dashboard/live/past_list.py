"""A past cook in words: what its row in the list of cooks says, and what its time went on."""

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path

from monitor.analysis import LITTLE_S, TimeLossReport
from monitor.model import clear_since, span
from monitor.session import standing
from monitor.storage import CookSummary, RecordingError

# The scale of all strips of a list, hours: cooks shorter than the first leave room, of longer ones the end is cut.
LEAST_SCALE_H, MOST_SCALE_H = 3, 16


@dataclass(frozen=True, slots=True)
class CookLine:
    """A line of the list.

    name: as addresses use it. began: Unix seconds, None for a file that cannot be read. outcome: in words, with how
    long it took. running: whether the cook is under way. left: whether it was left unfinished while a later one runs on
    its cooker.
    """

    name: str
    title: str
    began: float | None
    outcome: str
    running: bool = False
    left: bool = False
    stands: str = ""

    @property
    def ended(self) -> bool:
        """Whether there is a whole cook to judge."""
        return self.began is not None and not self.running and not self.left


def line_of(
    entry: CookSummary | RecordingError, under_way: Collection[Path] = (), now: float | None = None
) -> CookLine:
    """The line of a cook, or of a file that cannot be read. under_way: the recordings of the running cooks.

    now: Unix seconds, None where it does not matter where a batch stands.
    """
    if isinstance(entry, RecordingError):
        return CookLine(entry.path.stem, entry.path.name, None, f"Cannot be read: {entry.why}.")
    running = entry.finished is None and entry.path in under_way
    left = entry.finished is None and not running
    counts = ((len(checks_of(entry)), "check"), *_noted(entry))
    told = [f"{n} {word}{'s' if n > 1 else ''}" for n, word in counts if n]
    words = ", ".join([_how_it_went(entry, running, left), *told])
    stands = "" if now is None else standing(entry.events, now)
    return CookLine(entry.path.stem, entry.title, entry.about.started, words, running, left, stands)


def checks_of(cook: CookSummary) -> list[str]:
    """What its clarity checks read, in their order."""
    return [str(event.fields["result"]) for event in cook.events if event.kind == "checked"]


def lid_to_clear(cook: CookSummary) -> tuple[float, float] | None:
    """From lid on (else thick trace) to the clear check, Unix seconds; None where either was not logged."""
    clear = clear_since([event for event in cook.events if event.kind == "checked"])
    starts = [event.measured for kind in ("lid on", "thick trace") for event in cook.events if event.kind == kind]
    return (starts[0], clear) if starts and clear is not None and clear > starts[0] else None


def _how_it_went(cook: CookSummary, running: bool, left: bool) -> str:
    if running:
        return "Still running"
    if left:
        return "Left unfinished: finish or delete it"
    took = lid_to_clear(cook)
    if took is not None:
        return f"Clear after {span(took[1] - took[0])}"
    length = span((cook.finished or cook.last_known) - cook.about.started)
    checks = checks_of(cook)
    last = f"last check {checks[-1]}" if checks else "never checked"
    return f"Ended after {length}, {last}"


def _noted(cook: CookSummary) -> tuple[tuple[int, str], ...]:
    notes = [event for event in cook.events if event.kind == "note"]
    return (len(notes), "note"), (sum(bool(event.fields.get("photo")) for event in notes), "photograph")


def scale_hours(entries: Iterable[CookSummary | RecordingError]) -> int:
    """How many hours the strips of these cooks are wide."""
    lengths_s = [
        (one.finished or one.last_known) - one.about.started for one in entries if isinstance(one, CookSummary)
    ]
    return min(max(LEAST_SCALE_H, math.ceil(max(lengths_s, default=0.0) / 3600.0)), MOST_SCALE_H)


def dearest_words(report: TimeLossReport | None) -> str:
    """What cost the cook most, in a few words.

    >>> dearest_words(None)
    'Where its time went cannot be told.'
    """
    if report is None:
        return "Where its time went cannot be told."
    main = report.main
    if main is None or main.seconds < LITTLE_S:
        return "No time lost."
    return f"{span(main.seconds)} {main.cause}"


def signed(seconds: float) -> str:
    """Seconds as minutes with their sign; zero minutes have a plus.

    >>> signed(-130.0), signed(5400.0), signed(9000.0), signed(-29.0)
    ('−2 min', '+90 min', '+2 h 30 min', '+0 min')
    """
    # A difference below a millisecond is rounding error of the sums, and must not decide the rounding or the sign.
    minutes = round(abs(round(seconds, 3)) / 60)
    words = f"{minutes // 60} h {minutes % 60} min" if minutes >= 120 else f"{minutes} min"
    return f"{'−' if seconds < 0 and minutes else '+'}{words}"
