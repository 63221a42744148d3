"""A cook before it is made: when it should come clear, and the stirs and checks that it should take.

Nothing here is a model of its own. The estimator is asked at the moment the lid goes on, by the kitchen's prior and the
batch; then a cook that comes clear early, in the middle or late is played through it: the paste goes along the expected
temperature, is stirred and sampled when the estimator asks for it, and each sample shows what is most likely.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from monitor.estimation.estimator import Estimator, InferredState, infer_state
from monitor.estimation.prediction import CheckModel, expected_pace
from monitor.estimation.prior import Prior
from monitor.estimation.scheduling import POINTS, Costs
from monitor.estimation.thermal import AHEAD_S
from monitor.model import Batch, Event, Floats, History, make_event, series_from

# Readings of the cook that is played, s apart.
READING_S = 60.0
# So many samples that are not clear end the play: nobody plans for more.
MOST_CHECKS = 8


@dataclass(frozen=True, slots=True)
class ForecastCheck:
    """A clarity check of a cook that is played. at: Unix seconds. result: what the sample most likely shows."""

    at: float
    result: str


@dataclass(frozen=True, slots=True)
class ForecastCourse:
    """A cook that comes clear at ``clear_at``, as the estimator would guide it. Times are Unix seconds.

    stirs: when it is stirred, before the check that reads clear. checks: in order, the last of them clear.
    """

    clear_at: float
    stirs: tuple[float, ...]
    checks: tuple[ForecastCheck, ...]


@dataclass(frozen=True, slots=True)
class CookForecast:
    """What a cook is expected to be, at the moment its lid goes on.

    lid_on: Unix seconds. early, middle, late: courses that come clear at the 10, 50 and 90 % points. first_clear:
    probability that the first check already reads clear. cooks: finished cooks from which the kitchen has learned.
    never_clear: probability that it does not come clear within a day, mostly for want of alkali; where that is more
    than one tenth, ``late`` is the 90 % point of those that do.
    """

    lid_on: float
    early: ForecastCourse
    middle: ForecastCourse
    late: ForecastCourse
    first_clear: float
    cooks: int
    never_clear: float = 0.0

    @property
    def courses(self) -> tuple[ForecastCourse, ForecastCourse, ForecastCourse]:
        """All three, the early one first."""
        return self.early, self.middle, self.late


def forecast_cook(
    prior: Prior, costs: Costs, batch: Batch | None, lid_on: float, start_c: float
) -> CookForecast | None:
    """The forecast of a cook whose lid goes on at ``lid_on`` (Unix seconds) with the paste at ``start_c`` (degC).

    prior, costs: of the kitchen. batch: what goes in, or None where it is not known. None where the paste would not
    come clear within a day.
    """
    opening = _history(lid_on, np.array([lid_on]), np.array([start_c]), (), batch)
    estimate = Estimator(prior, costs).estimate(opening, lid_on)
    state = infer_state(opening, np.array([lid_on]), np.array([start_c]), lid_on, lid_on, prior)
    path_c = state.paths.weights @ state.paths.temperature_c
    pace = expected_pace(state.posterior, state.equivalent, AHEAD_S, path_c)
    low, middle, high = estimate.clear_at
    if low is None or middle is None or estimate.check_due is None:
        return None
    sight = float(state.clear_time.by[-1])
    if high is None:
        high = max(state.clear_time.quantile(0.9 * sight) or middle, middle)
    play = _Play(prior, costs, batch, lid_on, path_c, pace)
    early, usual, late = (play.course(clear_at) for clear_at in (low, middle, high))
    first = _first_clear(state, pace, usual.checks[0].at)
    return CookForecast(lid_on, early, usual, late, first, prior.cooks, 1.0 - sight)


def _first_clear(state: InferredState, pace: CheckModel, checked: float) -> float:
    clearing = state.clear_time
    mass = float(clearing.by[-1])
    moments = [clearing.quantile(mass * (i + 0.5) / POINTS) for i in range(POINTS)]
    clear, _ = pace.chances(np.array([checked]), np.array(moments, dtype=np.float64))
    return mass * float(clear.mean())


@dataclass(frozen=True)
class _Play:
    """What all courses of one forecast share. path_c: expected temperature at AHEAD_S after the lid, degC."""

    prior: Prior
    costs: Costs
    batch: Batch | None
    lid_on: float
    path_c: Floats
    pace: CheckModel

    def course(self, clear_at: float) -> ForecastCourse:
        """The course of a cook that comes clear at this moment (Unix seconds)."""
        estimator = Estimator(self.prior, self.costs)
        events: list[Event] = []
        checks: list[ForecastCheck] = []
        now = self.lid_on
        while len(checks) < MOST_CHECKS:
            due = estimator.estimate(self._history(events, now), now).check_due
            # Where it no longer sees a time to check, a person looks once the paste is clear.
            now = max(due if due is not None else clear_at, now + READING_S)
            events += self._stirs(events, now)
            result = self._result(now, clear_at) if len(checks) < MOST_CHECKS - 1 else "clear"
            checks.append(ForecastCheck(now, result))
            events.append(make_event(f"checked-{len(events)}", "checked", now, now, {"result": result}))
            if result == "clear":
                break
        return ForecastCourse(clear_at, tuple(e.measured for e in events if e.kind == "stirred"), tuple(checks))

    def _stirs(self, events: Sequence[Event], until: float) -> list[Event]:
        """The stirs that fall due before a check, which is a stir of its own only where the person makes it one."""
        last = max([self.lid_on, *(event.measured for event in events if event.kind == "stirred")])
        times = np.arange(last + self.costs.stir_every_s, until, self.costs.stir_every_s)
        return [make_event(f"stirred-{at:.0f}", "stirred", float(at), float(at)) for at in times]

    def _result(self, checked: float, clear_at: float) -> str:
        clear, hazy = self.pace.chances(np.array([checked]), np.array([clear_at]))
        if clear[0, 0] >= 0.5:
            return "clear"
        return "hazy" if clear[0, 0] + hazy[0, 0] >= 0.5 else "cloudy"

    def _history(self, events: Sequence[Event], now: float) -> History:
        times = self.lid_on + np.arange(0.0, now - self.lid_on + READING_S / 2.0, READING_S)
        return _history(
            self.lid_on, times, np.interp(times - self.lid_on, AHEAD_S, self.path_c), events, self.batch, now
        )


def _history(
    lid_on: float,
    times: Floats,
    temperatures_c: Floats,
    events: Sequence[Event],
    batch: Batch | None,
    now: float | None = None,
) -> History:
    paste = series_from("paste", "Cel", times, times, temperatures_c)
    logged = (make_event("lid-on-now", "lid on", lid_on, lid_on), *sorted(events, key=lambda event: event.measured))
    sheets = () if batch is None else ((lid_on, replace(batch, started=None)),)
    return History(lid_on, lid_on if now is None else now, {"paste": paste}, logged, sheets=sheets)
