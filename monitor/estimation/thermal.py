"""The forecast of the paste's temperature: a few weighted paths that stand for what the thermal filter knows."""

import math
from dataclasses import dataclass

import numpy as np

from monitor.estimation.estimate import TemperatureForecast
from monitor.estimation.heat_setting import heat_is_off
from monitor.estimation.thermal_filter import (
    LAGS_S,
    REACTION_FADE_S,
    REACTION_K,
    STEP_S,
    TARGETS_C,
    CookerState,
    cooker_state,
    reaction_fade,
    reaction_start,
)
from monitor.model import LONGEST_GRID_S, Event, Floats

# Ahead: fine steps while a cook can still end soon, coarse ones up to the 24 h beyond which nothing is promised.
AHEAD_S = np.concatenate([np.arange(0.0, 21_600.0, 240.0), np.arange(21_600.0, 86_401.0, 1200.0)])

# Three moments, with their probabilities, that stand for when a fallen target comes back.
_RETURN_QUANTILES = ((0.15, 0.3), (0.5, 0.4), (0.85, 0.3))
STAND_INS = 5
# What is less likely than this is left out.
LEAST_MASS = 0.01


@dataclass(frozen=True)
class Paths:
    """Weighted paths of the paste's temperature from one moment on, at the times AHEAD_S after it.

    weights: probabilities, shape (k,), sum 1. temperature_c: degC, shape (k, len(AHEAD_S)).
    """

    weights: Floats
    temperature_c: Floats

    def after(self, seconds: float) -> "Paths":
        """The same paths as seen from a moment that is ``seconds`` later."""
        later = [np.interp(AHEAD_S + seconds, AHEAD_S, path) for path in self.temperature_c]
        return Paths(self.weights, np.array(later))

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

    The probabilities of ``thermal_filter.cooker_state`` are cut into equal parts, ordered by how hot they make the
    paste in an hour; each part goes on as its mean.

    >>> paths = paths_ahead(np.array([0.0]), np.array([93.0]), (), 0.0, 93.0, 6.0)
    >>> round(float(paths.weights.sum()), 9), paths.temperature_c.shape[1] == len(AHEAD_S)
    (1.0, True)
    """
    grid = np.arange(max(times[0], times[-1] - LONGEST_GRID_S), times[-1] + STEP_S / 2, STEP_S)
    level_c = np.interp(grid, times, temperatures_c)
    state = cooker_state(grid, level_c, events, plateau_c, plateau_sd_c)
    if heat_is_off(events):
        state = _switched_off(state)
    return _spread_out(state, float(temperatures_c[-1]), now - reaction_start(events))


def _switched_off(state: CookerState) -> CookerState:
    """The state of a cooker whose plateau is the room's from now on."""
    standing = np.zeros_like(state.standing)
    standing[0] = (state.standing + state.fallen).sum(axis=0)
    return CookerState(standing, np.zeros_like(standing), state.usual, state.back_s)


def _spread_out(state: CookerState, start_c: float, since_start_s: float) -> Paths:
    """A few weighted paths that stand for the state. start_c: the last temperature, degC."""
    usual_c = float(state.usual @ TARGETS_C)
    fade = float(reaction_fade(np.array(since_start_s)))
    weights: list[float] = []
    curves: list[Floats] = []
    for mass, falls in ((state.standing, False), (state.fallen, True)):
        total = float(mass.sum())
        if total < LEAST_MASS:
            continue
        for target_c, lag_s, reaction_k, mean_back_s in _stand_ins(mass / total, start_c, fade, state.back_s):
            for back_s, part in _returns(mean_back_s, state.never) if falls else ((math.inf, 1.0),):
                weights.append(total * part / STAND_INS)
                curves.append(_relax(start_c, target_c, lag_s, reaction_k * fade, back_s, usual_c))
    return Paths(np.array(weights) / sum(weights), np.array(curves))


def _stand_ins(mass: Floats, start_c: float, fade: float, back_s: Floats) -> list[tuple[float, float, float, float]]:
    """Target, lag, heat of reaction and mean time of return of STAND_INS equal parts of the probabilities."""
    shape = mass.shape
    targets = np.broadcast_to(TARGETS_C[:, None, None], shape).ravel()
    lags = np.broadcast_to(LAGS_S[None, :, None], shape).ravel()
    reaction_k = np.broadcast_to(REACTION_K, shape).ravel()
    back = np.broadcast_to(back_s[:, None, None], shape).ravel()
    pulled = targets + 0.5 * fade * reaction_k
    order = np.argsort(pulled + (start_c - pulled) * np.exp(-3600.0 / lags), kind="stable")
    ends = np.cumsum(mass.ravel()[order])
    begins = ends - mass.ravel()[order]
    parts = []
    for part in range(STAND_INS):
        low, high = part / STAND_INS, (part + 1) / STAND_INS
        inside = np.clip(np.minimum(ends, high) - np.maximum(begins, low), 0.0, None)
        inside = inside / inside.sum()
        lag_s = float(np.exp(inside @ np.log(lags[order])))
        returns_s = float(1.0 / max(inside @ (1.0 / back[order]), 1e-12))
        parts.append((float(inside @ targets[order]), lag_s, float(inside @ reaction_k[order]), returns_s))
    return parts


def _returns(mean_back_s: float, never: float) -> list[tuple[float, float]]:
    """After how many more seconds a fallen target comes back, with the probability of each; inf for never."""
    back = [(-mean_back_s * math.log1p(-quantile), (1.0 - never) * part) for quantile, part in _RETURN_QUANTILES]
    return [*back, (math.inf, never)] if never else back


def _relax(start_c: float, target_c: float, lag_s: float, reaction_k: float, back_s: float, usual_c: float) -> Floats:
    """The path (degC, at AHEAD_S) towards a target, which ``back_s`` later becomes the usual one.

    reaction_k: by how much the reaction's heat raises the target now, K; that fades exponentially, which adds
    k f / (f - lag) (exp(-t/f) - exp(-t/lag)) with f the time of fading.
    """
    path: Floats = target_c + (start_c - target_c) * np.exp(-AHEAD_S / lag_s)
    if math.isfinite(back_s):
        at_return = target_c + (start_c - target_c) * math.exp(-back_s / lag_s)
        after = back_s < AHEAD_S
        path[after] = usual_c + (at_return - usual_c) * np.exp(-(AHEAD_S[after] - back_s) / lag_s)
    # At equal times the quotient is a limit; a hundredth beside it nobody sees.
    lag_s = lag_s if abs(lag_s / REACTION_FADE_S - 1.0) > 0.01 else 0.99 * REACTION_FADE_S
    factor = reaction_k * REACTION_FADE_S / (REACTION_FADE_S - lag_s)
    path += factor * (np.exp(-AHEAD_S / REACTION_FADE_S) - np.exp(-AHEAD_S / lag_s))
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
