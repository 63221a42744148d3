"""The forecast of the paste's temperature.

The cooker pulls the paste towards a target with a lag: dT/dt = (target - T) / lag. The target is the plateau, or
lower while the lid is off, the heat is down or the power is gone. A discrete Bayes filter over targets and lags, in
steps of five minutes, follows the curve; the target may jump at any step (predict), so that a change is recognised
from the curve alone (update). A fallen target is expected to come back, the less soon the longer it has lasted.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.estimation.estimate import TemperatureForecast
from monitor.model import LONGEST_GRID_S, Event, Floats

STEP_S = 300.0
TARGETS_C = np.array([22.0, 40.0, 55.0, 64.0, 70.0, 74.0, *np.arange(77.0, 104.5, 1.5).tolist()])
LAGS_S = np.array([900.0, 1500.0, 2400.0, 3600.0, 5400.0])
# Lags of 20-60 min (science, section 6), in the logarithm.
_LAG_MIDDLE_LN, _LAG_SD_LN = math.log(2400.0), 0.5
# Probability that the target jumps in a step; an even one where somebody logged a change of the heat (judgement).
JUMP_CHANCE, LOGGED_JUMP_CHANCE = 0.02, 0.5
STEP_NOISE_C = 0.5
ROUGH_NOISE_C, ROUGH_SHARE = 4.0, 0.02
# After the lid was lifted the paste needs this long to come back under the curve.
DISTURBED_S = 600.0
FALLEN_C = 5.0
FALLEN_SOFT_C = 1.0
ROOM_C = 22.0

# Ahead: fine steps while a cook can still end soon, coarse ones up to the 24 h beyond which nothing is promised.
AHEAD_S = np.concatenate([np.arange(0.0, 21_600.0, 240.0), np.arange(21_600.0, 86_401.0, 1200.0)])

# The length of an outage has a heavy tail: the probability that it outlasts d is (1 + d/scale)^-1.5 (judgement).
_OUTAGE_SCALE_S = {"off": 1800.0, "down": 3600.0}
_OUTAGE_POWER = 1.5
# The longer an outage has lasted, the likelier nobody means to end it: an even chance after this (judgement). A paste
# that was never hot is sooner expected to stay cold.
_EVEN_STAYS_S = {"off": 5400.0, "down": 10_800.0}
_EVEN_STAYS_NEVER_HOT_S = 1800.0
_RETURN_QUANTILES = ((0.15, 0.3), (0.5, 0.4), (0.85, 0.3))
STAND_INS = 5


@dataclass(frozen=True)
class Paths:
    """Weighted paths of the paste's temperature from one moment on, at the times AHEAD_S after it.

    weights: probabilities, shape (k,), sum 1. temperature_c: degC, shape (k, len(AHEAD_S)). usual_c: temperature at
    which this cook settles when all is well, degC.
    """

    weights: Floats
    temperature_c: Floats
    usual_c: float

    def after(self, seconds: float) -> "Paths":
        """The same paths as seen from a moment that is ``seconds`` later."""
        later = [np.interp(AHEAD_S + seconds, AHEAD_S, path) for path in self.temperature_c]
        return Paths(self.weights, np.array(later), self.usual_c)

    def ahead(self, now: float, horizon_s: float) -> TemperatureForecast:
        """The 10, 50 and 90 % points of the temperature from ``now`` (Unix seconds) up to ``horizon_s`` later."""
        keep = horizon_s >= AHEAD_S
        low, middle, high = _quantiles(self.temperature_c[:, keep], self.weights)
        times = now + AHEAD_S[keep]
        return TemperatureForecast(
            tuple(times.tolist()), tuple(low.tolist()), tuple(middle.tolist()), tuple(high.tolist())
        )


def _quantiles(values: Floats, weights: Floats) -> tuple[Floats, Floats, Floats]:
    order = np.argsort(values, axis=0)
    ranked = np.take_along_axis(values, order, axis=0)
    mass = np.cumsum(weights[order], axis=0) - 0.5 * weights[order]
    quantiles = []
    for share in (0.1, 0.5, 0.9):
        quantiles.append(np.array([np.interp(share, mass[:, j], ranked[:, j]) for j in range(values.shape[1])]))
    return quantiles[0], quantiles[1], quantiles[2]


def paths_ahead(
    times: Floats, temperatures_c: Floats, events: tuple[Event, ...], now: float, plateau_c: float, plateau_sd_c: float
) -> Paths:
    """Weighted paths of the paste's temperature from ``now`` on.

    times: Unix seconds of the block medians, ascending, shape (n,), n >= 1. temperatures_c: degC, shape (n,). events:
    of the cook, in order. now: Unix seconds. plateau_c, plateau_sd_c: temperature at which this kitchen's paste
    settles, and its standard deviation, degC.

    The filter has one weight for each of TARGETS_C and LAGS_S. Predict: w <- (1 - j) w + j q, with j the probability
    of a jump and q the targets after one. Update: w <- w L with L the likelihood of the step from one temperature to
    the next, which is exact for a constant target, T1 = target + (T0 - target) exp(-dt/lag). Lumped capacitance:
    Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, chapter 5; it holds for a paste that is stirred now
    and then, and not for the minutes after a lid was lifted, which count for little.

    >>> paths = paths_ahead(np.array([0.0]), np.array([93.0]), (), 0.0, 93.0, 6.0)
    >>> round(float(paths.weights.sum()), 9), paths.temperature_c.shape[1] == len(AHEAD_S)
    (1.0, True)
    """
    usual = np.exp(-0.5 * ((TARGETS_C - plateau_c) / plateau_sd_c) ** 2) + 1e-4
    usual /= usual.sum()
    fresh = _jump_targets(usual)
    lags = np.exp(-0.5 * ((np.log(LAGS_S) - _LAG_MIDDLE_LN) / _LAG_SD_LN) ** 2)
    weight = usual[:, None] * (lags / lags.sum())[None, :]
    grid = np.arange(max(times[0], times[-1] - LONGEST_GRID_S), times[-1] + STEP_S / 2, STEP_S)
    level = np.interp(grid, times, temperatures_c)
    likelihoods = _likelihoods(level, _disturbed(grid, events))
    means = np.empty(len(grid))
    changes = [event for event in events if event.kind in ("heat", "heat off")]
    fallen_since = None
    for i in range(1, len(grid)):
        jump = LOGGED_JUMP_CHANCE if any(grid[i - 1] < event.measured <= grid[i] for event in changes) else JUMP_CHANCE
        weight = (1.0 - jump) * weight + jump * fresh[:, None] * weight.sum(axis=0)[None, :]
        weight = weight * likelihoods[i - 1]
        weight /= weight.sum()
        means[i] = float(weight.sum(axis=1) @ TARGETS_C)
    means[0] = means[1] if len(grid) > 1 else plateau_c
    usual_c, was_hot = _usual_target(means, level, plateau_c, plateau_sd_c)
    low = means < usual_c - FALLEN_C
    if len(grid) > 1 and low[-1]:
        last_good = np.flatnonzero(~low)
        fallen_since = grid[last_good[-1]] if len(last_good) else grid[0]
    lasted_s = 0.0 if fallen_since is None else max(now - float(fallen_since), 0.0)
    return _spread_out(weight, float(temperatures_c[-1]), usual_c, lasted_s, was_hot, events)


def _likelihoods(level: Floats, disturbed: NDArray[np.bool_]) -> Floats:
    """Likelihood of each step of the curve under each target and lag, shape (n - 1, targets, lags).

    level: degC, shape (n,). disturbed: whether the step up to each place tells nothing, shape (n,).
    """
    target_c = TARGETS_C[None, :, None]
    decay = np.exp(-STEP_S / LAGS_S)[None, None, :]
    off_by = level[1:, None, None] - (target_c + (level[:-1, None, None] - target_c) * decay)
    rough = np.exp(-0.5 * (off_by / ROUGH_NOISE_C) ** 2) + 1e-5
    # Now and then a step tells little: the lid was lifted for a stir, logged or not.
    close = np.exp(-0.5 * (off_by / STEP_NOISE_C) ** 2) + ROUGH_SHARE * rough
    likelihoods: Floats = np.where(disturbed[1:, None, None], rough, close)
    return likelihoods


def _jump_targets(usual: Floats) -> Floats:
    off = np.zeros_like(usual)
    off[0] = 1.0
    even = np.full_like(usual, 1.0 / len(usual))
    targets: Floats = 0.5 * usual + 0.25 * off + 0.25 * even
    return targets


def _disturbed(grid: Floats, events: tuple[Event, ...]) -> NDArray[np.bool_]:
    """Steps whose change tells nothing of the target: the lid was off, or had just been lifted."""
    flags = np.zeros(len(grid), dtype=bool)
    off_since: float | None = None
    for event in events:
        if event.kind in ("lid on", "lid off"):
            flags |= (grid > event.measured - 60.0) & (grid <= event.measured + DISTURBED_S)
        if event.kind == "lid off":
            off_since = event.measured
        elif event.kind == "lid on" and off_since is not None:
            flags |= (grid > off_since) & (grid <= event.measured)
            off_since = None
    if off_since is not None:
        flags |= grid > off_since
    return flags


def _usual_target(means: Floats, level: Floats, plateau_c: float, plateau_sd_c: float) -> tuple[float, bool]:
    """Temperature at which this cook settles when all is well, degC, and whether its paste has been hot at all.

    The kitchen's plateau, drawn towards what the cook itself has shown. means: of the target at each step, degC;
    level: the temperature there, degC; shape (n,).
    """
    settled = (means > 76.0) & (np.abs(means - level) < 6.0)
    count = int(np.count_nonzero(settled))
    if not count:
        return plateau_c, False
    own = float(np.quantile(means[settled], 0.6))
    # Twenty minutes at a level weigh as much as the prior would if it were as wide as 2 degC.
    trust = count / 4.0 / 4.0 * plateau_sd_c**2
    return (own * trust + plateau_c) / (trust + 1.0), True


def _spread_out(
    weight: Floats, start_c: float, usual_c: float, lasted_s: float, was_hot: bool, events: tuple[Event, ...]
) -> Paths:
    """A few weighted paths that stand for the filter's weights.

    weight: over targets and lags, sum 1. start_c: the last temperature, degC. usual_c: of this cook, degC. lasted_s:
    how long the target has been a fallen one. was_hot: whether the paste has been hot at all.
    """
    heat_is_off = _heat_is_off(events)
    if heat_is_off:
        weight = np.zeros_like(weight)
        weight[0, :] = 1.0 / weight.shape[1]
    targets = np.broadcast_to(TARGETS_C[:, None], weight.shape).ravel()
    lags = np.broadcast_to(LAGS_S[None, :], weight.shape).ravel()
    # Soft at the edge, so that a slightly hotter paste is never expected to be much colder.
    fallen = weight.ravel() / (1.0 + np.exp((targets - usual_c + FALLEN_C) / FALLEN_SOFT_C))
    standing = weight.ravel() - fallen
    weights: list[float] = []
    curves: list[Floats] = []
    for mass in (standing, fallen):
        total = float(mass.sum())
        if total < 1e-3:
            continue
        for target, lag in _stand_ins(targets, lags, mass / total, start_c):
            returns = [(math.inf, 1.0)]
            if mass is fallen and not heat_is_off:
                returns = _returns("off" if target < 60.0 else "down", lasted_s, was_hot)
            for back_s, part in returns:
                weights.append(total * part / STAND_INS)
                curves.append(_relax(start_c, target, lag, back_s, usual_c))
    return Paths(np.array(weights) / sum(weights), np.array(curves), usual_c)


def _stand_ins(targets: Floats, lags: Floats, mass: Floats, start_c: float) -> list[tuple[float, float]]:
    """Target and lag of STAND_INS equal parts of the weights, ordered by how hot they make the paste in an hour."""
    order = np.argsort(targets + (start_c - targets) * np.exp(-3600.0 / lags), kind="stable")
    ends = np.cumsum(mass[order])
    begins = ends - mass[order]
    parts = []
    for part in range(STAND_INS):
        low, high = part / STAND_INS, (part + 1) / STAND_INS
        inside = np.clip(np.minimum(ends, high) - np.maximum(begins, low), 0.0, None)
        inside = inside / inside.sum()
        parts.append((float(inside @ targets[order]), float(np.exp(inside @ np.log(lags[order])))))
    return parts


def _returns(kind: str, lasted_s: float, was_hot: bool) -> list[tuple[float, float]]:
    """After how many more seconds a fallen target comes back, with the probability of each; inf for never.

    kind: "off" where the power is gone, "down" where the heat is low. lasted_s: since it fell.
    """
    even_s = _EVEN_STAYS_S[kind] if was_hot or kind == "down" else _EVEN_STAYS_NEVER_HOT_S
    never = lasted_s / (lasted_s + even_s)
    scale_s = _OUTAGE_SCALE_S[kind] + lasted_s
    back = [
        (scale_s * ((1.0 - quantile) ** (-1.0 / _OUTAGE_POWER) - 1.0), (1.0 - never) * part)
        for quantile, part in _RETURN_QUANTILES
    ]
    return [*back, (math.inf, never)]


def _relax(start_c: float, target_c: float, lag_s: float, back_s: float, usual_c: float) -> Floats:
    """The path (degC, at AHEAD_S) towards a target, which ``back_s`` later becomes the usual one."""
    path: Floats = target_c + (start_c - target_c) * np.exp(-AHEAD_S / lag_s)
    if math.isfinite(back_s):
        at_return = target_c + (start_c - target_c) * math.exp(-back_s / lag_s)
        after = back_s < AHEAD_S
        path[after] = usual_c + (at_return - usual_c) * np.exp(-(AHEAD_S[after] - back_s) / lag_s)
    return path


def settled_at(elapsed_s: Floats, temperatures_c: Floats) -> float | None:
    """Temperature at which a finished cook's paste settled under the lid, degC; None for a cook too short to tell.

    elapsed_s: since the start, shape (n,). temperatures_c: block medians, degC, shape (n,). It is the 70 % quantile
    after three quarters of an hour: before that the paste warms up, and dips and outages lie low. At least ten minutes
    of blocks must follow (judgement).

    >>> settled_at(30.0 * np.arange(400.0), np.full(400, 93.0))
    93.0
    """
    late = temperatures_c[elapsed_s > 2700.0]
    return float(np.quantile(late, 0.7)) if len(late) >= 20 else None


def _heat_is_off(events: tuple[Event, ...]) -> bool:
    """Whether the last event about the heat says that it is off."""
    for event in reversed(events):
        if event.kind == "heat off":
            return True
        if event.kind in ("heat", "lid on"):
            return event.kind == "heat" and str(event.fields.get("setting", "")).strip().lower() == "off"
    return False
