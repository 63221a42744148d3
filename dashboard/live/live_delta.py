"""One cook as a household's phones see it: numbered changes, so that each phone is sent only what it lacks."""

import secrets
from dataclasses import dataclass

from dashboard.live.cook_state import cook_state, paste_tenths_c
from monitor.notifications import PageAlerts
from monitor.session import Cook, LiveCook, LiveState


@dataclass(frozen=True, slots=True)
class Cursor:
    """How far a phone has got.

    delta: the name of the delta that numbered it. change: the last change that the phone has.
    """

    delta: str
    change: int

    def as_text(self) -> str:
        """The cursor as the phone sends it back."""
        return f"{self.delta}.{self.change}"

    @staticmethod
    def from_text(text: str) -> "Cursor | None":
        """The cursor in ``text``; None for any other text, which stands for a phone that has nothing.

        >>> Cursor.from_text("ab12.3").change
        3
        >>> Cursor.from_text("rubbish") is None
        True
        """
        delta, _, change = text.rpartition(".")
        if not delta or not change.isdecimal() or len(change) >= 12:
            return None
        return Cursor(delta, int(change))


class LiveDelta:
    """Computes what a phone lacks of one running cook. Not for two threads at once."""

    def __init__(self, cook: LiveCook) -> None:
        self.cook = cook
        self._name = secrets.token_hex(2)
        self._alerts = PageAlerts(cook.path.parent, cook.rig, cook.name)
        self._sent: dict[str, object] = {}
        self._changed_at: dict[str, int] = {}
        self._change = 0
        # What the state was last made of.
        self._made_of: tuple[object, ...] = ()

    def since(self, cursor: Cursor | None) -> dict[str, object]:
        """What a phone at ``cursor`` lacks: always ``cursor`` (its next one) and ``time`` (cook time), else changes."""
        state = self.cook.state()
        self._take_in(state)
        known = cursor if cursor is not None and cursor.delta == self._name and cursor.change <= self._change else None
        gained = known.change if known else 0
        return {
            "cursor": Cursor(self._name, self._change).as_text(),
            "time": round(state.batch_now, 1),
        } | {key: self._sent[key] for key, at in self._changed_at.items() if at > gained}

    def _take_in(self, state: LiveState) -> None:
        """Numbers what has changed since the last look."""
        history = state.history
        now: dict[str, object] = {"paste_tenths_c": paste_tenths_c(history.temperature_c("paste")[1])}
        # When the cook is over, what rests and what it waits for goes on by the minute.
        minute = 0 if state.ended is None else state.batch_now // 60.0
        made_of = (state.outlook, state.suggestions, history.logged, history.events, history.sheets, state.rate, minute)
        if made_of != self._made_of:
            # Nothing else than readings came where these are the same, and only the temperature can have changed.
            self._made_of = made_of
            now |= cook_state(history, state.outlook, state.suggestions, state.rate, state.batch_now)
            now |= {"title": history.batch.title if history.batch else self.cook.rig, "rate": state.rate}
        alerts = self._alerts
        alerts.look(state.outlook, history.events, state.batch_now, state.wall, state.rate)
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
