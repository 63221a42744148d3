"""From a history to an outlook."""

from monitor.history import History, cook_start
from monitor.progress.outlook import NOTHING_YET, Outlook


class Forecaster:
    """Turns histories of one cook into outlooks, keeping what it has already worked through."""

    def outlook(self, history: History, now: float) -> Outlook:
        """What the history says at ``now`` (Unix seconds)."""
        start = cook_start(history)
        return Outlook(
            now,
            None if start is None else now - start,
            None,
            None,
            (0.0, 0.0, 0.0),
            (None,) * 3,
            0.0,
            None,
            None,
            NOTHING_YET,
        )
