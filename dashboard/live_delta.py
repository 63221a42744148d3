"""One cook as a household's phones see it: numbered changes, so that each phone is sent only what it lacks."""

import math
import secrets
from dataclasses import dataclass

import numpy as np

from dashboard.cook_state import cook_state, paste_tenths_c
from dashboard.figures import Grid, ahead_points, curve_points, grid_for
from monitor.model import Floats
from monitor.notifications import PageAlerts
from monitor.session import Cook, LiveCook, LiveState

# What is expected ahead is drawn again when this much cook time has passed, or when an event was logged.
AHEAD_AGAIN_S = 600.0


@dataclass(frozen=True, slots=True)
class Cursor:
    """How far a phone has got.

    delta: the name of the delta that numbered it. change: the last change that the phone has. curve: the number of the
    curve that it has. last: offset of the last reading that it has, seconds from the curve's origin; -1 for none.
    """

    delta: str
    change: int
    curve: int
    last: int

    def as_text(self) -> str:
        """The cursor as the phone sends it back."""
        return f"{self.delta}.{self.change}.{self.curve}.{self.last}"

    @staticmethod
    def from_text(text: str) -> "Cursor | None":
        """The cursor in ``text``; None for any other text, which stands for a phone that has nothing.

        >>> Cursor.from_text("ab12.3.1.7200").last
        7200
        >>> Cursor.from_text("rubbish") is None
        True
        """
        parts = text.split(".")
        if len(parts) != 4 or not all(part.removeprefix("-").isdecimal() and len(part) < 12 for part in parts[1:]):
            return None
        return Cursor(parts[0], int(parts[1]), int(parts[2]), int(parts[3]))


@dataclass(slots=True)
class _Curve:
    """The curve that is being sent. number: raised when earlier points of it changed."""

    grid: Grid
    number: int = 1
    last: float = -math.inf
    count_to_last: int = 0

    def follow(self, grid: Grid, times: Floats) -> None:
        """Takes in the readings' times (Unix seconds), cut by ``grid``."""
        if grid != self.grid or int(np.searchsorted(times, self.last, "right")) != self.count_to_last:
            # The cook outgrew its grid, or a reading came late, into a part that phones already have.
            self.grid = grid
            self.number += 1
        self.last = float(times[-1]) if len(times) else -math.inf
        self.count_to_last = len(times)


class LiveDelta:
    """Computes what a phone lacks of one running cook. Not for two threads at once."""

    def __init__(self, cook: LiveCook) -> None:
        self.cook = cook
        self._name = secrets.token_hex(2)
        self._alerts = PageAlerts(cook.path.parent, cook.rig, cook.name)
        self._sent: dict[str, object] = {}
        self._changed_at: dict[str, int] = {}
        self._change = 0
        self._curve: _Curve | None = None
        # What the state was last made of, and where the expected temperature was last drawn from.
        self._made_of: tuple[object, ...] = ()
        self._ahead_at = -math.inf
        self._ahead_for = (0, 0)

    def since(self, cursor: Cursor | None) -> dict[str, object]:
        """What a phone at ``cursor`` lacks: always ``cursor`` (its next one) and ``time`` (cook time), else changes.

        ``points`` are curve points that replace all from the offset ``from_s`` on; ``curve_origin`` comes with
        a whole new curve.
        """
        state = self.cook.state()
        times, values_c = state.history.temperature_c("paste")
        grid = grid_for(state.history.started, state.now)
        curve = self._curve = self._curve or _Curve(grid)
        curve.follow(grid, times)
        self._take_in(state, values_c, curve)
        known = cursor if cursor is not None and cursor.delta == self._name and cursor.change <= self._change else None
        last = round(float(times[-1]) - grid.origin) if len(times) else -1
        answer: dict[str, object] = {
            "cursor": Cursor(self._name, self._change, curve.number, last).as_text(),
            "time": round(state.now, 1),
        }
        gained = known.change if known else 0
        answer |= {key: self._sent[key] for key, at in self._changed_at.items() if at > gained}
        if known is None or known.curve != curve.number or known.last < 0:
            answer |= {
                "curve_origin": grid.origin,
                "from_s": 0,
                "points": curve_points(times, values_c, grid),
            }
        elif last > known.last:
            from_s = known.last // grid.width_s * grid.width_s
            points = curve_points(times, values_c, grid, grid.origin + from_s)
            answer |= {"from_s": from_s, "points": points}
        return answer

    def _take_in(self, state: LiveState, values_c: Floats, curve: _Curve) -> None:
        """Numbers what has changed since the last look."""
        history = state.history
        now: dict[str, object] = {"paste_tenths_c": paste_tenths_c(values_c)}
        made_of = (state.outlook, state.suggestions, history.logged, history.events, history.sheets, state.rate)
        if (*made_of, curve.number) != self._made_of:
            # Nothing else than readings came where these are the same, and only the temperature can have changed.
            self._made_of = (*made_of, curve.number)
            now |= cook_state(history, state.outlook, state.suggestions)
            title = history.batch.title if history.batch else self.cook.rig
            now |= {"title": title, "rate": state.rate, "curve_span": [curve.grid.origin, None]}
        ahead_for = (len(history.events), curve.grid.origin)
        if state.now - self._ahead_at >= AHEAD_AGAIN_S or ahead_for != self._ahead_for:
            estimate = state.outlook.estimate
            now["forecast"] = [] if history.finished() is not None else ahead_points(estimate, curve.grid.origin)
            self._ahead_at, self._ahead_for = state.now, ahead_for
        alerts = self._alerts
        alerts.look(state.outlook, history.events, state.now, state.wall, state.rate)
        now |= {"alert_number": alerts.number, "alert_text": alerts.text, "unanswered": list(alerts.unanswered)}
        changed = {key: value for key, value in now.items() if key not in self._sent or self._sent[key] != value}
        if changed:
            self._change += 1
            self._sent |= changed
            self._changed_at |= dict.fromkeys(changed, self._change)


def span_of(cook: Cook) -> tuple[float, float]:
    """From when to when there is anything to show of a cook, Unix seconds."""
    whole = cook.history()
    return whole.started, max(cook.now() if cook.finished() is not None else whole.as_of, whole.started)
