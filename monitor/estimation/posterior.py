"""From evidence to belief: how far the cook is, as a posterior over what is unknown of it.

The unknowns are the need (equivalent time from thick trace to a clear check), the activation energy and the mixing
floor, on the grid of ``prior``. The history turns into equivalent time for every pair of the latter two; a check
then says how far that is from clear.
"""

import math
from dataclasses import dataclass

import numpy as np

from monitor.estimation.clear_time import ClearTimeDistribution, clear_times_from
from monitor.estimation.kinetics import (
    CLEAR_RESIDUAL,
    accumulate,
    arrhenius_factor,
    clear_gain,
    converted_at,
    mean_mixing_factor,
    mixing_factor,
)
from monitor.estimation.prior import EA, FADE_S, FLOORS, LN_NEED, REFERENCE_EXCESS, Prior
from monitor.estimation.secondary_observations import look_likelihood, ph_likelihood
from monitor.estimation.stats import normal_cdf
from monitor.model import LONGEST_GRID_S, Batch, Event, Floats

# A sample reads hazy up to about this residual, cloudy above (judgement, no source).
HAZY_RESIDUAL = 0.035
# How far one person's look may be off, in the logarithm of the residual.
CLEAR_NOISE, HAZY_NOISE = 0.12, 0.3
# One look in fifty is simply wrong: a wet glass, a wrong button.
SLIP = 0.02
# The oils' saponification ranges make the true excess uncertain by about this (science, section 8).
EXCESS_SD = 0.012
# Between blocks further apart than this, and than three times what is usual, the temperature is a guess.
GAP_S = 180.0
GAP_TIMES = 3.0
GAP_SHARE_SD = 0.35
STIR_INTERVAL_S = 2100.0
NEED_S = np.exp(LN_NEED)


def excess_shift(excess: float) -> float:
    """ln of the need at this excess over the need at the reference, averaged over what the excess may truly be.

    >>> round(excess_shift(0.03), 6)
    0.0
    >>> excess_shift(0.0) > 0.3 > 0.0 > excess_shift(0.06)
    True
    """
    return _mean_log_gain(excess) - _mean_log_gain(REFERENCE_EXCESS)


_NODES, _NODE_WEIGHTS = np.polynomial.hermite_e.hermegauss(7)


def _mean_log_gain(excess: float) -> float:
    nodes = excess + EXCESS_SD * _NODES
    return float(np.log(clear_gain(nodes)) @ _NODE_WEIGHTS / _NODE_WEIGHTS.sum())


@dataclass(frozen=True)
class EquivalentTime:
    """Equivalent time along the cook, for every activation energy and mixing floor.

    times: Unix seconds, shape (n,). equivalent_s: shape (n, 5, 3), from 0 at the start.
    guessed: share of the last row that rests on guessed temperatures, 0 to 1.
    stir_interval_s: how often this cook has been stirred, drawn to common practice.
    """

    times: Floats
    equivalent_s: Floats
    guessed: float
    stir_interval_s: float

    def at(self, moment: float) -> Floats:
        """Equivalent time at a moment (Unix seconds) within the history, shape (5, 3)."""
        times, rows = self.times, self.equivalent_s
        inside = float(np.clip(moment, times[0], times[-1]))
        i = min(max(int(np.searchsorted(times, inside, side="right")), 1), len(times) - 1)
        if i == 0:
            return rows[:1].reshape(rows.shape[1:])
        share = (inside - times[i - 1]) / (times[i] - times[i - 1])
        result: Floats = rows[i - 1] + share * (rows[i] - rows[i - 1])
        return result


def integrate_equivalent_time(
    times: Floats, temperatures_c: Floats, events: tuple[Event, ...], start: float
) -> EquivalentTime:
    """The temperature-history integral with its mixing factor.

    times, temperatures_c: block medians, shape (n,), n >= 1, Unix seconds and degC. start: when the estimate runs
    from.
    """
    after = times > start
    at = np.concatenate([[start], times[after]])
    level = np.concatenate([[np.interp(start, times, temperatures_c)], temperatures_c[after]])
    if len(at) == 1:
        return EquivalentTime(at, np.zeros((1, len(EA), len(FLOORS))), 0.0, STIR_INTERVAL_S)
    stirs = np.array([start, *(e.measured for e in events if e.kind == "stirred" and start < e.measured <= at[-1])])
    # A stir between two readings must not wait for the next one to count.
    at, level = _with_points(at, level, stirs[1:])
    rate = arrhenius_factor(level[:, None], EA[None, :])
    middle = 0.5 * (at[1:] + at[:-1])
    since = middle - stirs[np.searchsorted(stirs, middle, side="right") - 1]
    mixing = mixing_factor(since[:, None], FLOORS[None, :], FADE_S)
    steps = np.diff(at)[:, None] * 0.5 * (rate[1:] + rate[:-1])
    equivalent = np.zeros((len(at), len(EA), len(FLOORS)))
    np.cumsum(steps[:, :, None] * mixing[:, None, :], axis=0, out=equivalent[1:])
    gaps = np.diff(at) > longest_step_s(times)
    guessed = float(steps[gaps].sum() / max(steps.sum(), 1e-9)) if gaps.any() else 0.0
    elapsed = at[-1] - start
    interval = (elapsed + 2 * STIR_INTERVAL_S) / (len(stirs) - 1 + 2)
    return EquivalentTime(at, equivalent, guessed, float(np.clip(interval, 900.0, 7200.0)))


def longest_step_s(times: Floats) -> float:
    """The longest step between blocks that is no gap, in s; times in Unix seconds, shape (n,)."""
    return max(GAP_S, GAP_TIMES * float(np.median(np.diff(times)))) if len(times) > 1 else GAP_S


def _with_points(at: Floats, level: Floats, extra: Floats) -> tuple[Floats, Floats]:
    new = np.setdiff1d(extra, at)
    if not len(new):
        return at, level
    merged = np.sort(np.concatenate([at, new]))
    return merged, np.interp(merged, at, level)


@dataclass(frozen=True)
class Posterior:
    """The posterior of one cook.

    weight: over this batch's ln need (LN_NEED, in s), activation energy and floor, shape (71, 5, 3), sum 1.
    excess: of the batch, fraction. doubts: sentences on what makes the answer wide.
    """

    weight: Floats
    excess: float
    caveats: tuple[str, ...]


def update_posterior(prior: Prior, done: EquivalentTime, events: tuple[Event, ...], batch: Batch | None) -> Posterior:
    """The prior, weighed with every check, look and pH from the start on."""
    excess = batch.alkali.excess if batch else REFERENCE_EXCESS
    start, end = float(done.times[0]), float(done.times[-1])
    doubts: list[str] = []
    checks = [event for event in events if event.kind == "checked"]
    inside = [event for event in checks if start < event.measured <= end + GAP_S]
    if len(inside) < len(checks):
        doubts.append("A check from before the cook's start is left out.")
    results = [str(event.fields.get("result")) for event in inside]
    trust = 1.0
    if "clear" in results and any(result != "clear" for result in results[results.index("clear") :]):
        trust = 0.3
        doubts.append("Checks contradict each other, so each counts for less.")
    weight = prior.for_batch(excess_shift(excess))
    for event in events:
        if event.kind in ("looked", "ph read") and start < event.measured <= end + GAP_S:
            share = done.at(event.measured)[None] / NEED_S[:, None, None]
            if event.kind == "looked":
                weight = weight * look_likelihood(str(event.fields["paste"]), share, excess)
            else:
                weight = weight * ph_likelihood(event, share, excess, batch)
    weight = weight / weight.sum()
    for event in sorted(inside, key=lambda check: check.fields["result"] == "clear"):
        result = str(event.fields["result"])
        likelihood = check_likelihood(result, done.at(event.measured), excess) ** trust
        before = weight.sum(axis=0)
        weight = weight * likelihood
        if result == "clear":
            # A clear check speaks of the need alone: were it let to shift the belief in activation energy and
            # mixing too, it could lower the conversion, which no clear sample can.
            weight = weight / weight.sum(axis=0) * before
        weight = weight / weight.sum()
    if done.guessed > 0.02:
        doubts.append("Part of the temperature history is missing, so the answer is wide.")
        weight = smoothed(weight, GAP_SHARE_SD * done.guessed)
    return Posterior(weight, excess, tuple(doubts))


@dataclass(frozen=True)
class CheckModel:
    """What a sample shows at a moment, given when the paste comes clear.

    times, equivalent_s: expected equivalent time along the cook and ahead, shape (n,), rising; Unix seconds and s.
    excess: of the batch, fraction.
    """

    times: Floats
    equivalent_s: Floats
    excess: float

    def chances(self, checked: Floats, clear_at: Floats) -> tuple[Floats, Floats]:
        """Chances of reading clear, and of reading hazy, shape (g, m), of samples taken at ``checked``, shape (g,),
        of pastes that come clear at ``clear_at``, shape (m,)."""
        done = np.interp(checked, self.times, self.equivalent_s)
        need = np.maximum(np.interp(clear_at, self.times, self.equivalent_s), 1.0)
        clear, not_cloudy = _looks(done[:, None] / need[None, :], self.excess)
        return clear, not_cloudy - clear


def _looks(share: Floats, excess: float) -> tuple[Floats, Floats]:
    """Chances that a sample reads clear, and that it does not read cloudy, at these shares of the need."""
    ln_residual = np.log(np.maximum(1.0 - converted_at(share, excess), 1e-12))
    clear = normal_cdf((math.log(CLEAR_RESIDUAL) - ln_residual) / CLEAR_NOISE)
    not_cloudy = np.maximum(normal_cdf((math.log(HAZY_RESIDUAL) - ln_residual) / HAZY_NOISE), clear)
    return clear, not_cloudy


def check_likelihood(result: str, equivalent_s: Floats, excess: float) -> Floats:
    """Chance of this result ("clear", "hazy", "cloudy") at every grid point.

    equivalent_s: at the check, shape (5, 3). Returns shape (71, 5, 3).
    """
    clear, not_cloudy = _looks(equivalent_s[None] / NEED_S[:, None, None], excess)
    chance = {"clear": clear, "hazy": not_cloudy - clear, "cloudy": 1.0 - not_cloudy}[result]
    likelihood: Floats = (1.0 - SLIP) * chance + SLIP / 3.0
    return likelihood


def smoothed(weight: Floats, sd: float) -> Floats:
    """The weights with the need axis blurred by a normal of this width in ln; the sum stays."""
    step = LN_NEED[1] - LN_NEED[0]
    reach = math.ceil(4 * sd / float(step))
    if reach == 0:
        return weight
    offsets = np.arange(-reach, reach + 1) * step
    kernel = np.exp(-0.5 * (offsets / sd) ** 2)
    kernel /= kernel.sum()
    blurred = np.apply_along_axis(lambda column: np.convolve(column, kernel, mode="same"), 0, weight)
    result: Floats = blurred * (weight.sum() / blurred.sum())
    return result


def weighted_quantiles(values: Floats, weights: Floats, shares: tuple[float, ...]) -> list[float]:
    """Quantiles of weighted points; values and weights of one shape. Infinite values stay infinite."""
    flat, mass = values.ravel(), weights.ravel()
    keep = mass > 0
    flat, mass = flat[keep], mass[keep]
    order = np.argsort(flat, kind="stable")
    flat = flat[order]
    middle = np.cumsum(mass[order]) - 0.5 * mass[order]
    middle /= mass.sum()
    found = []
    for share in shares:
        i = int(np.searchsorted(middle, share))
        if i == 0:
            found.append(float(flat[0]))
        elif i >= len(flat):
            found.append(float(flat[-1]))
        elif math.isinf(flat[i]):
            found.append(math.inf)
        else:
            part = (share - middle[i - 1]) / max(middle[i] - middle[i - 1], 1e-300)
            found.append(float(flat[i - 1] + part * (flat[i] - flat[i - 1])))
    return found


def converted_quantiles(belief: Posterior, equivalent_s: Floats, shares: tuple[float, ...]) -> list[float]:
    """Quantiles of the fraction converted. equivalent_s: shape (5, 3)."""
    share = equivalent_s[None] / NEED_S[:, None, None]
    return weighted_quantiles(converted_at(share, belief.excess), belief.weight, shares)


def chance_clear(belief: Posterior, equivalent_s: Floats) -> float:
    """The chance that a check reads clear at this equivalent time, shape (5, 3)."""
    likelihood = check_likelihood("clear", equivalent_s, belief.excess)
    return float((likelihood * belief.weight).sum())


def clear_times(
    belief: Posterior, done: EquivalentTime, ahead_s: Floats, paths_c: Floats, path_weights: Floats
) -> ClearTimeDistribution:
    """When the paste falls below the clear threshold, over every grid point and temperature path.

    ahead_s: seconds from the history's last moment, shape (h,). paths_c: degC, shape (k, h); path_weights: (k,).
    """
    need = NEED_S
    last = done.equivalent_s[-1]
    reached = need[:, None, None] <= last[None]
    moments: list[Floats] = []
    weights: list[Floats] = []
    for e, f in zip(*np.nonzero(reached.any(axis=0)), strict=True):
        hit = reached[:, e, f]
        moments.append(np.interp(need[hit], done.equivalent_s[:, e, f], done.times))
        weights.append(belief.weight[hit, e, f])
    mixing = mean_mixing_factor(done.stir_interval_s, FLOORS, FADE_S)
    left = np.where(reached, np.inf, (need[:, None, None] - last[None]) / mixing[None, None, :])
    rates = arrhenius_factor(paths_c[:, :, None], EA[None, None, :])
    # What is left to gain and how likely that is, of the grid points that are not there yet; by activation energy.
    open_ = ~reached
    to_go = [left[:, e, :][open_[:, e, :]] for e in range(len(EA))]
    shares = [belief.weight[:, e, :][open_[:, e, :]] for e in range(len(EA))]
    for k, path_weight in enumerate(path_weights):
        gained = accumulate(ahead_s, rates[k])
        for e in range(len(EA)):
            ahead = np.interp(to_go[e], gained[:, e], ahead_s, right=math.inf)
            moments.append(done.times[-1] + ahead)
            weights.append(path_weight * shares[e])
    earliest = max(float(done.times[0]), float(done.times[-1]) - LONGEST_GRID_S)
    return clear_times_from(np.concatenate(moments), np.concatenate(weights), earliest)


def expected_pace(belief: Posterior, done: EquivalentTime, ahead_s: Floats, path_c: Floats) -> CheckModel:
    """The expected equivalent time along the cook and ahead.

    ahead_s: seconds from the history's last moment, shape (h,), from 0. path_c: the expected temperature, shape (h,).
    """
    shares = belief.weight.sum(axis=0)
    behind = np.tensordot(done.equivalent_s, shares, axes=2)
    mixing = mean_mixing_factor(done.stir_interval_s, FLOORS, FADE_S)
    rate = arrhenius_factor(path_c[:, None], EA[None, :]) @ (shares @ mixing)
    ahead = accumulate(ahead_s, rate)[1:]
    return CheckModel(
        np.concatenate([done.times, done.times[-1] + ahead_s[1:]]),
        np.concatenate([behind, behind[-1] + ahead]),
        belief.excess,
    )


def mean_equivalent_s(belief: Posterior, equivalent_s: Floats) -> float:
    """The expected equivalent time; equivalent_s of shape (5, 3)."""
    return float((belief.weight.sum(axis=0) * equivalent_s).sum())
