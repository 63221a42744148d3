"""The estimator under test, as a policy: the one place that knows the package's interface."""

from collections.abc import Sequence
from types import MappingProxyType

import numpy as np

from monitor.estimation import Estimate, Estimator, cook_evidence, fit_kitchen
from monitor.estimation.scheduling import Costs
from monitor.model import Batch, Event, Floats, History, Series, make_event


def estimator_after(past: Sequence[History], costs: Costs | None = None) -> Estimator:
    """The estimator of a kitchen whose finished cooks are ``past``, oldest first."""
    return Estimator(fit_kitchen([one for one in map(cook_evidence, past) if one is not None]).prior(), costs)


class Monitor:
    """The estimator as a policy. past: the kitchen's finished cooks, oldest first. costs: at which it plans."""

    def __init__(self, past: Sequence[History] = (), costs: Costs | None = None) -> None:
        self._forecaster = estimator_after(past, costs)
        self._batch: Batch | None = None
        self._started = self._latest = 0.0
        self._paste = _Column("paste")
        self._wall = _Column("wall")
        self._events: list[Event] = []

    def begin(self, batch: Batch, started: float) -> None:
        self._batch = batch
        self._started = self._latest = started

    def reading(self, at: float, paste_c: float | None, wall_c: float | None) -> None:
        self._latest = at
        self._paste.append(at, paste_c)
        if wall_c is not None:
            self._wall.append(at, wall_c)

    def event(self, at: float, kind: str, fields: dict[str, str | float]) -> None:
        self._latest = max(self._latest, at)
        # The same cook under the same policy has the same uids, which a random one would not give.
        self._events.append(make_event(f"{at:.0f} {len(self._events)}", kind, at, at, fields))

    def ask(self, now: float) -> Estimate:
        history = self.history()
        return self._forecaster.estimate(history, now)

    def history(self) -> History:
        """The cook so far."""
        columns = [column for column in (self._paste, self._wall) if column.count]
        sheets = () if self._batch is None else ((self._started, self._batch),)
        return History(
            self._started,
            self._latest,
            MappingProxyType({column.channel: column.series() for column in columns}),
            tuple(self._events),
            sheets=sheets,
        )


class _Column:
    """One channel in arrays that double when they are full."""

    def __init__(self, channel: str) -> None:
        self.channel = channel
        self.count = 0
        self._rows: Floats = np.empty((2, 4096))
        self._faults: list[tuple[int, str]] = []

    def append(self, at: float, value: float | None) -> None:
        if self.count == self._rows.shape[1]:
            self._rows = np.concatenate([self._rows, np.empty_like(self._rows)], axis=1)
        if value is None:
            self._faults.append((self.count, "open circuit"))
        self._rows[:, self.count] = at, np.nan if value is None else value
        self.count += 1

    def series(self) -> Series:
        times, values = self._rows[:, : self.count]
        return Series(self.channel, "Cel", times, times, values, tuple(self._faults))
