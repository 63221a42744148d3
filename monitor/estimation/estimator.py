"""From the history of a cook to an estimate: the pure interface of this package."""

from dataclasses import dataclass, replace

import numpy as np

from monitor.estimation.clear_time import ClearTimeDistribution, with_interruptions
from monitor.estimation.estimate import NOTHING_YET, Estimate, OpenSpread
from monitor.estimation.explanations import check_reason, stir_reason
from monitor.estimation.posterior import (
    EquivalentTime,
    Posterior,
    chance_clear,
    clear_times,
    converted_quantiles,
    expected_pace,
    integrate_equivalent_time,
    longest_step_s,
    mean_equivalent_s,
    update_posterior,
)
from monitor.estimation.prior import Prior, first_prior
from monitor.estimation.resample import BlockMedian
from monitor.estimation.scheduling import Costs, optimal_check_time, stir_due
from monitor.estimation.thermal import AHEAD_S, Paths, paths_ahead
from monitor.model import Event, Floats, History, cook_start

SHARES = (0.1, 0.5, 0.9)
# Beyond this nothing is promised (interfaces, section 4).
LONGEST_S = 86_400.0
DRAWN_AHEAD_S = 4 * 3600.0
# Before the start the curve still tells how the cooker warms.
BEFORE_START_S = 1800.0


@dataclass(frozen=True)
class _State:
    """What an estimate is made from; start in Unix seconds, events up to now.

    undisturbed: the clear time if nothing comes between; checks are planned by it, because what comes between will
    be seen and planned for then.
    """

    start: float
    events: tuple[Event, ...]
    done: EquivalentTime
    paths: Paths
    belief: Posterior
    undisturbed: ClearTimeDistribution
    clearing: ClearTimeDistribution


class Estimator:
    """Turns the growing history of one cook into estimates.

    Only the half-minute blocks of the paste's temperature are kept between calls; readings that come out of order
    make it start again, so the answer is that of the whole history however it came.
    """

    def __init__(self, prior: Prior | None = None, costs: Costs | None = None) -> None:
        self._prior = prior or first_prior()
        self._costs = costs or Costs()
        self._blocks = BlockMedian()
        self._taken = 0
        self._last_measured = 0.0

    def estimate(self, history: History, now: float) -> Estimate:
        """What the history says at ``now`` (Unix seconds).

        Never raises for what a history holds.
        """
        times, temperatures = self.take_in(history)
        latest = float(temperatures[-1]) if len(times) and now - times[-1] < longest_step_s(times) else None
        start = cook_start(history)
        if start is None or start > now:
            unknown = ((0.0, 0.0, 0.0), (None, None, None), 0.0, None, None, NOTHING_YET)
            return Estimate(now, None, latest, None, *unknown)
        reckoned = _state(history, times, temperatures, start, now, self._prior)
        return self._told(history, reckoned, now, latest)

    def take_in(self, history: History) -> tuple[Floats, Floats]:
        """Works through the readings that are new; block times (Unix seconds) and temperatures (degC) so far."""
        measured, temperatures = history.temperature_c("paste")
        # A reading that came late stands before ones already taken and shifts them along.
        follows = self._taken <= len(measured) and (
            self._taken == 0 or float(measured[self._taken - 1]) == self._last_measured
        )
        if not (follows and self._blocks.extend(measured[self._taken :], temperatures[self._taken :])):
            self._blocks = BlockMedian()
            self._blocks.extend(measured, temperatures)
        self._taken = len(measured)
        self._last_measured = float(measured[-1]) if self._taken else 0.0
        return self._blocks.arrays()

    def _told(self, history: History, reckoned: _State, now: float, latest: float | None) -> Estimate:
        start, events, belief = reckoned.start, reckoned.events, reckoned.belief
        done, paths, clearing = reckoned.done, reckoned.paths, reckoned.clearing
        clear_at = _within([clearing.quantile(share) for share in SHARES], now)
        cold = clear_at[1] is None
        chance = chance_clear(belief, done.equivalent_s[-1])
        over = history.finished() is not None
        checks = [event for event in events if event.kind == "checked" and event.measured > start]
        last_result = str(checks[-1].fields.get("result")) if checks else None
        read_clear = last_result == "clear"
        not_before = checks[-1].measured + 600.0 if checks else start
        check_at = None
        if not (cold or over or read_clear):
            eye = expected_pace(belief, done, AHEAD_S, paths.weights @ paths.temperature_c)
            check_at = optimal_check_time(reckoned.undisturbed, eye, not_before, self._costs)
        stir_at = None if over or read_clear else stir_due(start, events, self._costs.stir_every_s)
        low, middle, high = converted_quantiles(belief, done.equivalent_s[-1], SHARES)
        reasons = {
            "stir": stir_reason(start, events, stir_at),
            "check": check_reason(clearing, now, check_at, cold, read_clear, over, last_result, belief.caveats),
        }
        return Estimate(
            t=now,
            elapsed_s=now - start,
            temperature_c=latest,
            equivalent_s=mean_equivalent_s(belief, done.equivalent_s[-1]),
            converted=(low, middle, high),
            clear_at=clear_at,
            chance_clear=chance,
            stir_due=stir_at,
            check_due=check_at,
            reasons=reasons,
            ahead=paths.ahead(now, DRAWN_AHEAD_S),
        )


def _within(moments: list[float | None], now: float) -> OpenSpread:
    """The clear times, None where beyond a day; all None where even the middle one is."""
    low, middle, high = (m if m is not None and m - now < LONGEST_S else None for m in moments)
    return (None, None, None) if middle is None else (low, middle, high)


def _state(history: History, times: Floats, temperatures_c: Floats, start: float, now: float, prior: Prior) -> _State:
    """Everything that follows from the blocks (times in Unix seconds, degC), the events and the prior."""
    events = tuple(event for event in history.events if event.measured <= now)
    keep = (times >= start - BEFORE_START_S) & (times <= now)
    at, level = times[keep], temperatures_c[keep]
    blind = not len(at)
    if blind:
        # Nothing was measured: the kitchen's plateau has to stand in, and the answer says that it is a guess.
        at, level = np.array([start]), np.array([prior.plateau_c])
    paths = paths_ahead(at, level, events, now, prior.plateau_c, prior.plateau_sd_c)
    silent_s = max(now - float(at[-1]), 0.0)
    if silent_s == 0.0:
        done = integrate_equivalent_time(at, level, events, start)
    elif silent_s <= longest_step_s(at):
        # At the last temperature, so that a look at the clock alone never changes what was reached.
        done = integrate_equivalent_time(np.append(at, now), np.append(level, level[-1]), events, start)
    else:
        done = _over_a_silence(at, level, paths, events, start, silent_s)
        paths = paths.after(silent_s)
    if blind:
        done = replace(done, guessed=1.0)
    belief = update_posterior(prior, done, events, history.batch)
    undisturbed = clear_times(belief, done, AHEAD_S, paths.temperature_c, paths.weights)
    return _State(start, events, done, paths, belief, undisturbed, with_interruptions(undisturbed, now))


def _over_a_silence(
    at: Floats, level: Floats, paths: Paths, events: tuple[Event, ...], start: float, silent_s: float
) -> EquivalentTime:
    """The integral carried over a silence along the expected temperature, all of which counts as guessed."""
    # Beyond what is looked ahead the expected temperature stays as it is, and so does the mixing.
    steps = np.unique(np.append(np.arange(0.0, min(silent_s, AHEAD_S[-1]), 120.0), silent_s))[1:]
    expected = np.interp(steps, AHEAD_S, paths.weights @ paths.temperature_c)
    measured = integrate_equivalent_time(at, level, events, start)
    carried = integrate_equivalent_time(
        np.concatenate([at, at[-1] + steps]), np.concatenate([level, expected]), events, start
    )
    total = max(float(carried.equivalent_s[-1].mean()), 1e-9)
    known = (1.0 - measured.guessed) * float(measured.equivalent_s[-1].mean()) / total
    return replace(carried, guessed=1.0 - known)
