"""From a history to an estimate: resample, integrate, update the posterior, forecast, schedule."""

from dataclasses import dataclass, replace

import numpy as np

from monitor.estimation.clear_time import ClearTimeDistribution, with_interruptions
from monitor.estimation.equivalent_time import EquivalentTime, integrate_equivalent_time, longest_block_step_s
from monitor.estimation.estimate import ClearDensity, Estimate, OpenSpread, Spread
from monitor.estimation.explanations import CheckOutlook, check_reason, reasons_before_start, stir_reason
from monitor.estimation.observation import stage_of
from monitor.estimation.posterior import Posterior, update_posterior
from monitor.estimation.prediction import (
    clear_times,
    converted_quantiles,
    done_quantiles,
    excess_quantiles,
    expected_pace,
    mean_equivalent_s,
)
from monitor.estimation.prior import NEED_FACTOR, NEED_MIN, Prior, first_prior
from monitor.estimation.resample import BlockMedian
from monitor.estimation.scheduling import Costs, costs_of, costs_while_learning, optimal_check_time, stir_due
from monitor.estimation.thermal import AHEAD_S, Paths, paths_ahead
from monitor.model import Event, Floats, History, clear_since, cook_start

SHARES = (0.1, 0.5, 0.9)
# Beyond this nothing is promised (interfaces, section 4).
LONGEST_S = 86_400.0
DRAWN_AHEAD_S = 4 * 3600.0
# Before the start the curve still tells how the cooker warms.
BEFORE_START_S = 1800.0
# Over a silence the expected temperature is integrated in steps of this.
SILENCE_STEP_S = 120.0
# Equivalent time within which nearly every batch comes clear: two standard deviations above the first guess.
AMPLE_S = 60.0 * NEED_MIN * NEED_FACTOR**2
# This many cooks with a sample that was not clear have taught a kitchen's need from both sides (judgement).
TAUGHT = 3
# No check is planned sooner than this after the one before.
NEXT_CHECK_S = 600.0


@dataclass(frozen=True)
class InferredState:
    """Everything from which one estimate is read.

    start: of the cook, Unix seconds. events: up to now. equivalent: equivalent time up to now. paths: of the
    temperature from now on. uninterrupted: the clear time if nothing interrupts the cook; checks are planned by it,
    because an interruption will be seen and planned for then. clear_time: with possible interruptions.
    """

    start: float
    events: tuple[Event, ...]
    equivalent: EquivalentTime
    paths: Paths
    posterior: Posterior
    uninterrupted: ClearTimeDistribution
    clear_time: ClearTimeDistribution


class Estimator:
    """The estimate of one cook, from its growing history.

    prior: of the kitchen; the first prior where None. costs: of the kitchen, which a cook's own go before. caveats:
    sentences to add to the reason of each check.

    Only the block medians of the paste's temperature are kept between calls. Readings that come out of order make
    them start again, so the answer is always that of the whole history.
    """

    def __init__(self, prior: Prior | None = None, costs: Costs | None = None, caveats: tuple[str, ...] = ()) -> None:
        self._prior = prior or first_prior()
        self._costs = costs or Costs()
        self._caveats = caveats
        self._blocks = BlockMedian()
        self._consumed = 0
        self._last_measured = 0.0

    def estimate(self, history: History, now: float) -> Estimate:
        """The estimate at ``now`` (Unix seconds), without alarms, which ``session`` adds.

        history: of the cook, as known at ``now``. Never raises for what a history holds.
        """
        times, temperatures = self.resampled(history)
        latest = float(temperatures[-1]) if len(times) and now - times[-1] < longest_block_step_s(times) else None
        start = cook_start(history, now)
        if start is None or start > now:
            reasons = reasons_before_start(history.events)
            unknown = ((0.0, 0.0, 0.0), (None, None, None), 0.0, None, None, reasons)
            return Estimate(now, None, latest, None, *unknown)
        state = infer_state(history, times, temperatures, start, now, self._prior)
        return self._estimate_of(history, state, now, latest)

    def resampled(self, history: History) -> tuple[Floats, Floats]:
        """Block times (Unix seconds) and temperatures (degC), shape (n,) each; works through new readings only."""
        measured, temperatures = history.temperature_c("paste")
        # A reading that came late stands before ones already consumed and shifts them along.
        in_order = self._consumed <= len(measured) and (
            self._consumed == 0 or float(measured[self._consumed - 1]) == self._last_measured
        )
        if not (in_order and self._blocks.extend(measured[self._consumed :], temperatures[self._consumed :])):
            self._blocks = BlockMedian()
            self._blocks.extend(measured, temperatures)
        self._consumed = len(measured)
        self._last_measured = float(measured[-1]) if self._consumed else 0.0
        return self._blocks.arrays()

    def _estimate_of(self, history: History, state: InferredState, now: float, latest: float | None) -> Estimate:
        """The answer that is read from a state. latest: the last temperature, degC, None where it is too old."""
        start, events, posterior, paths = state.start, state.events, state.posterior, state.paths
        reached_s = state.equivalent.equivalent_s[-1]
        clear_at = _within([state.clear_time.quantile(share) for share in SHARES], now)
        costs = costs_of(events, self._costs)
        check = _next_check(state, clear_at, costs, self._prior.bracketed, over=history.finished() is not None)
        ended = check.over or check.read_clear
        stir_at = None if ended else stir_due(start, events, costs.stir_every_s)
        converted = posterior.grid.converted(reached_s)
        low, middle, high = converted_quantiles(posterior, converted, SHARES)
        chance = posterior.chance_clear(converted)
        reasons = {
            "stir": stir_reason(start, events, stir_at),
            "check": check_reason(state.clear_time, now, check, (*posterior.caveats, *self._caveats)),
        }
        return Estimate(
            t=now,
            elapsed_s=now - start,
            temperature_c=latest,
            equivalent_s=mean_equivalent_s(posterior, reached_s),
            converted=(low, middle, high),
            clear_at=clear_at,
            chance_clear=chance,
            stir_due=stir_at,
            check_due=check.due,
            reasons=reasons,
            ahead=paths.ahead(now, DRAWN_AHEAD_S),
            done=_spread(done_quantiles(posterior, reached_s, SHARES)),
            excess=_spread(excess_quantiles(posterior, SHARES)),
            stage=stage_of(middle, chance),
            clear_density=ClearDensity() if ended or clear_at[1] is None else state.clear_time.density(now + LONGEST_S),
        )


def _spread(quantiles: list[float]) -> Spread:
    low, middle, high = quantiles
    return low, middle, high


def _next_check(
    state: InferredState, clear_at: OpenSpread, costs: Costs, bracketed: int, *, over: bool
) -> CheckOutlook:
    """When the next check is due, if one is.

    clear_at: Unix seconds. bracketed: earlier cooks of the kitchen that had a sample which was not clear. over: whether
    the cook is finished.
    """
    checks = [event for event in state.events if event.kind == "checked" and event.measured > state.start]
    last_result = str(checks[-1].fields.get("result")) if checks else None
    read_clear = clear_since(checks) is not None
    due, cold = None, False
    if not (over or read_clear):
        expected_c = state.paths.weights @ state.paths.temperature_c
        pace = expected_pace(state.posterior, state.equivalent, AHEAD_S, expected_c)
        # Without a clear time it is the heat that fails, unless there is plenty of it.
        cold = clear_at[1] is None and float(pace.equivalent_s[-1]) < AMPLE_S
        if clear_at[1] is not None:
            not_before = checks[-1].measured + NEXT_CHECK_S if checks else state.start
            due = optimal_check_time(state.uninterrupted, pace, not_before, costs_while_learning(costs, bracketed))
    return CheckOutlook(due, cold, read_clear, over, last_result, costs, teaches=not checks and bracketed < TAUGHT)


def _within(moments: list[float | None], now: float) -> OpenSpread:
    """The quantiles of the clear time (Unix seconds), None where beyond a day; all None where the middle one is."""
    low, middle, high = (m if m is not None and m - now < LONGEST_S else None for m in moments)
    return (None, None, None) if middle is None else (low, middle, high)


def infer_state(
    history: History, times: Floats, temperatures_c: Floats, start: float, now: float, prior: Prior
) -> InferredState:
    """Everything that follows from the history and the prior.

    times (Unix seconds), temperatures_c: block medians, shape (n,). start, now: Unix seconds.
    """
    events = tuple(event for event in history.events if event.measured <= now)
    keep = (times >= start - BEFORE_START_S) & (times <= now)
    at, level_c = times[keep], temperatures_c[keep]
    unmeasured = not len(at)
    if unmeasured:
        # Nothing was measured: the kitchen's plateau has to stand in, and the answer says that it is a guess.
        at, level_c = np.array([start]), np.array([prior.plateau_c])
    paths = paths_ahead(at, level_c, events, now, prior.plateau_c, prior.plateau_sd_c)
    silent_s = max(now - float(at[-1]), 0.0)
    if silent_s == 0.0:
        equivalent = integrate_equivalent_time(at, level_c, events, start)
    elif silent_s <= longest_block_step_s(at):
        # At the last temperature, so that a look at the clock alone never changes what was reached.
        equivalent = integrate_equivalent_time(np.append(at, now), np.append(level_c, level_c[-1]), events, start)
    else:
        equivalent = _over_a_silence(at, level_c, paths, events, start, silent_s)
        paths = paths.after(silent_s)
    if unmeasured:
        equivalent = replace(equivalent, guessed_share=1.0)
    posterior = update_posterior(prior, equivalent, events, history.batch, history.sheet_known)
    uninterrupted = clear_times(posterior, equivalent, AHEAD_S, paths.temperature_c, paths.weights)
    clear_time = with_interruptions(uninterrupted, now)
    return InferredState(start, events, equivalent, paths, posterior, uninterrupted, clear_time)


def _over_a_silence(
    at: Floats, level_c: Floats, paths: Paths, events: tuple[Event, ...], start: float, silent_s: float
) -> EquivalentTime:
    """The integral carried over a silence of ``silent_s`` along the expected temperature, which counts as guessed."""
    # Beyond what is looked ahead the expected temperature stays as it is, and so does the mixing.
    steps = np.unique(np.append(np.arange(0.0, min(silent_s, AHEAD_S[-1]), SILENCE_STEP_S), silent_s))[1:]
    expected = np.interp(steps, AHEAD_S, paths.weights @ paths.temperature_c)
    measured = integrate_equivalent_time(at, level_c, events, start)
    carried = integrate_equivalent_time(
        np.concatenate([at, at[-1] + steps]), np.concatenate([level_c, expected]), events, start
    )
    total = max(float(carried.equivalent_s[-1].mean()), 1e-9)
    known = (1.0 - measured.guessed_share) * float(measured.equivalent_s[-1].mean()) / total
    return replace(carried, guessed_share=1.0 - known)
