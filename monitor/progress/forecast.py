"""From a history to an outlook: the pure interface of the estimate."""

import numpy as np

from monitor.conditions import conditions
from monitor.history import Floats, History, cook_start
from monitor.progress.blocks import Blocks
from monitor.progress.clearing import ClearTimes, with_interruptions
from monitor.progress.due import Costs, best_check, stir_due
from monitor.progress.estimate import (
    Belief,
    Progressed,
    believe,
    chance_clear,
    clear_times,
    converted_quantiles,
    expected_pace,
    longest_step_s,
    mean_equivalent_s,
    progressed,
)
from monitor.progress.outlook import NOTHING_YET, Condition, OpenSpread, Outlook
from monitor.progress.prior import Prior, first_prior
from monitor.progress.reasons import check_reason, stir_reason
from monitor.progress.thermal import AHEAD_S, Paths, paths_ahead
from monitor.records import Event

SHARES = (0.1, 0.5, 0.9)
# Beyond this nothing is promised (interfaces, section 4).
LONGEST_S = 86_400.0
DRAWN_AHEAD_S = 4 * 3600.0
# Before the start the curve still tells how the cooker warms.
BEFORE_START_S = 1800.0


class Forecaster:
    """Turns the growing history of one cook into outlooks.

    Only the half-minute blocks of the paste's temperature are kept between calls; readings that come out of order
    make it start again, so the answer is that of the whole history however it came.
    """

    def __init__(self, prior: Prior | None = None, costs: Costs | None = None) -> None:
        self._prior = prior or first_prior()
        self._costs = costs or Costs()
        self._blocks = Blocks()
        self._taken = 0
        self._last_measured = 0.0

    def outlook(self, history: History, now: float) -> Outlook:
        """What the history says at ``now`` (Unix seconds). Never raises for what a history holds."""
        times, temperatures = self.take_in(history)
        latest = float(temperatures[-1]) if len(times) and now - times[-1] < longest_step_s(times) else None
        standing = conditions(history, now)
        start = cook_start(history)
        if start is None or start > now:
            return Outlook(
                now, None, latest, None, (0.0, 0.0, 0.0), (None, None, None), 0.0, None, None, NOTHING_YET, standing
            )
        events = tuple(event for event in history.events if event.measured <= now)
        at, level, blind = _usable(times, temperatures, start, now, self._prior)
        done = progressed(at, level, events, start)
        if blind:
            done = Progressed(done.times, done.equivalent_s, 1.0, done.stir_interval_s)
        paths = paths_ahead(at, level, events, now, self._prior.plateau_c, self._prior.plateau_sd_c)
        to_now = _carried_to(done, at, level, paths, events, start, now)
        belief = believe(self._prior, to_now, events, history.batch)
        clearing = with_interruptions(clear_times(belief, to_now, AHEAD_S, paths.temperature_c, paths.weights), now)
        return self._told(now, start, latest, events, history, standing, belief, to_now, paths, clearing)

    def take_in(self, history: History) -> tuple[Floats, Floats]:
        """Works through the readings that are new; block times (Unix seconds) and temperatures (degC) so far."""
        measured, temperatures = history.temperature_c("paste")
        # A reading that came late stands before ones already taken and shifts them along.
        follows = self._taken <= len(measured) and (
            self._taken == 0 or float(measured[self._taken - 1]) == self._last_measured
        )
        if not (follows and self._blocks.extend(measured[self._taken :], temperatures[self._taken :])):
            self._blocks = Blocks()
            self._blocks.extend(measured, temperatures)
        self._taken = len(measured)
        self._last_measured = float(measured[-1]) if self._taken else 0.0
        return self._blocks.arrays()

    def _told(
        self,
        now: float,
        start: float,
        latest: float | None,
        events: tuple[Event, ...],
        history: History,
        standing: tuple[Condition, ...],
        belief: Belief,
        done: Progressed,
        paths: Paths,
        clearing: ClearTimes,
    ) -> Outlook:
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
            check_at = best_check(clearing, eye, not_before, self._costs)
        stir_at = None if over or read_clear else stir_due(start, events, self._costs.stir_every_s)
        low, middle, high = converted_quantiles(belief, done.equivalent_s[-1], SHARES)
        reasons = {
            "stir": stir_reason(start, events, stir_at),
            "check": check_reason(clearing, now, check_at, cold, read_clear, over, last_result, belief.doubts),
        }
        return Outlook(
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
            conditions=standing,
            ahead=paths.ahead(now, DRAWN_AHEAD_S),
        )


def _within(moments: list[float | None], now: float) -> OpenSpread:
    """The clear times, None where beyond a day; all None where even the middle one is."""
    low, middle, high = (m if m is not None and m - now < LONGEST_S else None for m in moments)
    return (None, None, None) if middle is None else (low, middle, high)


def _usable(times: Floats, temperatures: Floats, start: float, now: float, prior: Prior) -> tuple[Floats, Floats, bool]:
    """Blocks from a little before the start to now; where there are none, the kitchen's plateau as a guess."""
    keep = (times >= start - BEFORE_START_S) & (times <= now)
    if not keep.any():
        moments = np.array([start, now]) if now > start else np.array([start])
        return moments, np.full(len(moments), prior.plateau_c), True
    return times[keep], temperatures[keep], False


def _carried_to(
    done: Progressed, at: Floats, level: Floats, paths: Paths, events: tuple[Event, ...], start: float, now: float
) -> Progressed:
    """The integral carried from the last reading to now: at its temperature, or over a silence as is expected.

    A silence of more than a few minutes counts as guessed.
    """
    silent_s = now - float(at[-1])
    if silent_s <= 0 or now <= start:
        return done
    if silent_s <= longest_step_s(at):
        return progressed(np.append(at, now), np.append(level, level[-1]), events, start)
    steps = np.unique(np.append(np.arange(0.0, silent_s, 120.0), silent_s))[1:]
    expected = np.interp(steps, AHEAD_S, paths.weights @ paths.temperature_c)
    carried = progressed(np.concatenate([at, at[-1] + steps]), np.concatenate([level, expected]), events, start)
    total = float(carried.equivalent_s[-1].mean())
    guessed = 1.0 - (1.0 - done.guessed) * float(done.equivalent_s[-1].mean()) / max(total, 1e-9)
    return Progressed(carried.times, carried.equivalent_s, guessed, carried.stir_interval_s)
