"""One cook as a household's phones see it: numbered changes, so that each is sent only what it lacks."""

import math
import secrets
from dataclasses import dataclass, field

import numpy as np

from dashboard.facts import changed, facts_of, readings_facts
from dashboard.figures import Grid, ahead_points, curve_points, grid_for
from monitor.model import Floats, History
from monitor.notifications import PageAlerts
from monitor.session import Cook, LiveCook, Outlook

# What is expected ahead is drawn again when this much cook time has passed, or when an event was logged.
AHEAD_AGAIN_S = 600.0


@dataclass(frozen=True, slots=True)
class Mark:
    """How far a phone has got.

    board: which board numbered it. change: the last change it has. curve: the curve it has.
    last: offset in seconds of the last reading it has, from the curve's origin; -1 for none.
    """

    board: str
    change: int
    curve: int
    last: int

    def as_text(self) -> str:
        """The mark as the phone sends it back."""
        return f"{self.board}.{self.change}.{self.curve}.{self.last}"

    @staticmethod
    def from_text(text: str) -> "Mark | None":
        """The mark in ``text``; None where it is none, which stands for having nothing.

        >>> Mark.from_text("ab12.3.1.7200").last
        7200
        >>> Mark.from_text("rubbish") is None
        True
        """
        parts = text.split(".")
        if len(parts) != 4 or not all(part.removeprefix("-").isdecimal() and len(part) < 12 for part in parts[1:]):
            return None
        return Mark(parts[0], int(parts[1]), int(parts[2]), int(parts[3]))


@dataclass(slots=True)
class _Curve:
    """The curve that is being sent. number: raised when earlier points of it changed."""

    grid: Grid
    number: int = 1
    last: float = -math.inf
    count_to_last: int = 0


@dataclass(slots=True)
class Board:
    """The running state of one cook's page. Not for two threads at once."""

    cook: LiveCook
    name: str = field(default_factory=lambda: secrets.token_hex(2))
    _facts: dict[str, object] = field(default_factory=dict)
    _changed_at: dict[str, int] = field(default_factory=dict)
    _change: int = 0
    _curve: _Curve | None = None
    _thought: tuple[object, ...] = ()
    _ahead_at: float = -math.inf
    _ahead_for: tuple[int, int] = (0, 0)
    _rings: PageAlerts = field(init=False)

    def __post_init__(self) -> None:
        self._rings = PageAlerts(self.cook.path.parent, self.cook.rig, self.cook.name)

    def since(self, mark: Mark | None) -> dict[str, object]:
        """What a phone at ``mark`` lacks: always ``n`` (its next mark) and ``t`` (cook time), else only changes.

        ``p`` holds curve points that replace all from offset ``k`` on; ``or`` comes with a whole new curve.
        """
        outlook = self.cook.outlook()
        history = self.cook.history()
        now = self.cook.now()
        times, values_c = history.temperature_c("paste")
        curve = self._follow(times, history.started, now)
        self._note(history, outlook, curve, now)
        known = mark if mark is not None and mark.board == self.name and mark.change <= self._change else None
        last = round(float(times[-1]) - curve.grid.origin) if len(times) else -1
        answer: dict[str, object] = {
            "n": Mark(self.name, self._change, curve.number, last).as_text(),
            "t": round(now, 1),
        }
        gained = known.change if known else 0
        answer |= {key: self._facts[key] for key, at in self._changed_at.items() if at > gained}
        if known is None or known.curve != curve.number or known.last < 0:
            answer |= {"or": curve.grid.origin, "k": 0, "p": curve_points(times, values_c, curve.grid)}
        elif last > known.last:
            from_bucket = known.last // curve.grid.width_s * curve.grid.width_s
            points = curve_points(times, values_c, curve.grid, curve.grid.origin + from_bucket)
            answer |= {"k": from_bucket, "p": points}
        return answer

    def _note(self, history: History, outlook: Outlook, curve: _Curve, now: float) -> None:
        thought = (outlook.t, history.logged, history.events, history.sheets, self.cook.rate, curve.number)
        offered = self.cook.offered_suggestions()
        if thought == self._thought:
            # Nothing was thought or logged since: only what readings alone change can have changed.
            facts = readings_facts(history, outlook, offered)
        else:
            facts = facts_of(history, outlook, offered)
            facts |= {"ti": self.cook.title(), "rt": self.cook.rate, "sp": [curve.grid.origin, None]}
            self._thought = thought
        drawn_for = (len(history.events), curve.grid.origin)
        if now - self._ahead_at >= AHEAD_AGAIN_S or drawn_for != self._ahead_for:
            facts["ah"] = [] if history.finished() is not None else ahead_points(outlook.estimate, curve.grid.origin)
            self._ahead_at, self._ahead_for = now, drawn_for
        rings = self._rings
        rings.look(outlook, history.events, now, self.cook.wall, self.cook.rate)
        facts |= {"rn": rings.number, "rw": rings.words, "ra": list(rings.unanswered)}
        news = changed(self._facts, facts)
        if news:
            self._change += 1
            self._facts |= news
            self._changed_at |= dict.fromkeys(news, self._change)

    def _follow(self, times: Floats, started: float, now: float) -> _Curve:
        grid = grid_for(started, now)
        curve = self._curve
        if curve is None:
            curve = self._curve = _Curve(grid)
        elif grid != curve.grid or int(np.searchsorted(times, curve.last, "right")) != curve.count_to_last:
            # The cook outgrew its grid, or a reading came late, into a part that phones already have.
            curve.grid = grid
            curve.number += 1
        curve.last = float(times[-1]) if len(times) else -math.inf
        curve.count_to_last = len(times)
        return curve


def span_of(cook: Cook) -> tuple[float, float]:
    """From when to when there is anything to show of a cook, Unix seconds."""
    whole = cook.history()
    return whole.started, max(cook.now() if cook.finished() is not None else whole.as_of, whole.started)
