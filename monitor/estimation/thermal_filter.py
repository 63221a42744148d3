"""What the curve tells of the cooker: a discrete Bayes filter over the plateau, a fallen target and the lag.

The cooker pulls the paste towards a target with a lag, dT/dt = (target - T) / lag. While all is well the target is the
cook's own plateau; while the lid is off, the heat down or the power gone it is a lower one and comes back. What stays
low is a plateau too: so a cooker that never was hot is known as a cool one, and nobody waits for its return. Soon after
the start the reaction heats the paste from within, which adds to the target and fades.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.estimation.heat_setting import heat_changes
from monitor.model import Event, Floats

STEP_S = 300.0
TARGETS_C = np.array([22.0, 40.0, 55.0, 64.0, 70.0, 74.0, *np.arange(77.0, 104.5, 1.5).tolist()])
_SIZE = len(TARGETS_C)
LAGS_S = np.array([900.0, 1500.0, 2500.0, 4500.0])
# Lags of 20-60 min (science, section 6), in the logarithm.
_LAG_MIDDLE_LN, _LAG_SD_LN = math.log(1800.0), 0.5
# By how much the reaction's heat raises the target at the start, K, with its probabilities, and how soon that fades:
# 39 W in the first quarter of an hour against a loss of 2.2 W/K, a third of it after an hour (science, section 9).
REACTION_K = np.array([0.0, 12.0, 24.0])
_REACTION_WEIGHTS = np.array([0.3, 0.4, 0.3])
REACTION_FADE_S = 1800.0

# Per step (judgement): probability that the target falls, or that the plateau is another one from now on, or that it
# creeps to either neighbour.
FALL_CHANCE, SHIFT_CHANCE, CREEP_CHANCE = 0.015, 0.002, 0.03
# That the target falls where somebody logged that the heat was turned down.
LOGGED_CHANCE = 0.5
# How many of those that were turned down on purpose stay down for the rest of the cook.
LOWERED_STAYS = 0.5
# That a fallen target is back once somebody logged that the heat was turned up again.
TURNED_UP_CHANCE = 0.9
# A target below this means that the power is gone, degC; a fallen one lies at least this far below the plateau, K.
OFF_BELOW_C = 60.0
FALLEN_K = 4.0
# How many of those that fall stay down, and how soon the others come back on average (judgement).
_STAYS_OFF, _STAYS_DOWN = 0.1, 0.4
_BACK_OFF_S, _BACK_DOWN_S = 2700.0, 3600.0
# Of a fallen target by how likely it is off rather than somewhere between.
_OFF_SHARE = 0.5
STEP_NOISE_C = 0.4
ROUGH_NOISE_C, ROUGH_SHARE = 4.0, 0.04
# After the lid was lifted the paste needs this long to come back under the curve.
DISTURBED_S = 600.0
# The weight is normalised, and the usual plateau weighed anew, every so many steps: often enough, and it costs time.
TIDY_STEPS = 6
_TINY = 1e-300


@dataclass(frozen=True)
class CookerState:
    """What is known of the cooker at the end of the curve, as probabilities that sum to 1 together.

    standing: over TARGETS_C (the plateau), LAGS_S and REACTION_K: the target is the plateau. fallen: over TARGETS_C
    (the target), LAGS_S and REACTION_K. usual: over TARGETS_C: the plateau to which a fallen target comes back, sum 1.
    back_s: mean time until it does, s, of each of TARGETS_C. never: chance that it will not.
    """

    standing: Floats
    fallen: Floats
    usual: Floats
    back_s: Floats
    never: float = 0.0


def cooker_state(
    grid: Floats, level_c: Floats, events: tuple[Event, ...], plateau_c: float, plateau_sd_c: float
) -> CookerState:
    """The state of the cooker after a curve.

    grid: Unix seconds in steps of STEP_S, shape (n,), n >= 1. level_c: the paste's temperature there, degC, shape (n,).
    events: of the cook, in order. plateau_c, plateau_sd_c: where this kitchen's paste settles, and its standard
    deviation, degC.

    Predict: some of the standing weight falls, some of the fallen comes back or stays for good, the plateau creeps.
    Update: the likelihood of the step from one temperature to the next, which is exact for a constant target,
    T1 = target + (T0 - target) exp(-dt/lag). Lumped capacitance: Incropera and DeWitt, Fundamentals of Heat and Mass
    Transfer, chapter 5; it holds for a paste that is stirred now and then, and not for the minutes after a lid was
    lifted, which count for little.
    """
    prior = np.exp(-0.5 * ((TARGETS_C - plateau_c) / plateau_sd_c) ** 2) + 1e-4
    prior /= prior.sum()
    lags = np.exp(-0.5 * ((np.log(LAGS_S) - _LAG_MIDDLE_LN) / _LAG_SD_LN) ** 2)
    beside = np.multiply.outer(lags / lags.sum(), _REACTION_WEIGHTS).ravel()
    # Standing weight in the first half of the rows, fallen in the second.
    weight = np.concatenate([np.multiply.outer(prior, beside), np.zeros((_SIZE, len(beside)))])
    usual = prior
    likelihoods = _likelihoods(grid, level_c, events)
    changes = heat_changes(events)
    steps: dict[tuple[bool | None, bool], _Step] = {}
    lowered: bool | None = False
    fallen_chance = 0.0
    matrix_kind: tuple[bool | None, bool] | None = None
    for i in range(1, len(grid)):
        logged = [change.lowered for change in changes if grid[i - 1] < change.at <= grid[i]] if changes else []
        lowered = logged[-1] if logged else lowered
        kind = lowered, bool(logged)
        if kind not in steps:
            steps[kind] = _step(_chances(*kind), prior)
        if kind != matrix_kind:
            matrix, matrix_kind = steps[kind].matrix_with(usual), kind
        weight = matrix @ weight
        both = weight.reshape(2, _SIZE, -1)
        both *= likelihoods[i - 1]
        fallen_chance += steps[kind].fall
        if i % TIDY_STEPS == 0 or i == len(grid) - 1 or logged:
            weight /= weight.sum()
            usual = _usual(usual, weight, fallen_chance)
            fallen_chance, matrix_kind = 0.0, None
    standing, fallen = weight.reshape(2, _SIZE, len(LAGS_S), len(REACTION_K))
    never = _never(float(grid[-1]) - changes[-1].at) if changes and changes[-1].lowered else 0.0
    return CookerState(standing, fallen, usual, _BACK_S, never)


def _never(lowered_s: float) -> float:
    """Chance that a heat which was turned down so long ago (s) stays down: the longer it lasts, the likelier."""
    comes_back = (1.0 - LOWERED_STAYS) * math.exp(-max(lowered_s, 0.0) / _BACK_DOWN_S)
    return LOWERED_STAYS / (LOWERED_STAYS + comes_back)


@dataclass(frozen=True)
class _Chances:
    """Of one step. fall, shift: of the target, of the plateau. stays, back: of each fallen target, shape (t,).

    stays: that the fall is for good; back: that it comes back in this step.
    """

    fall: float
    shift: float
    stays: Floats
    back: Floats


def _chances(lowered: bool | None, logged: bool) -> _Chances:
    """The chances of a step. lowered: as ``HeatChange`` has it; logged: whether a change was logged in this step."""
    nothing = np.zeros_like(_STAYS)
    if lowered:
        # Somebody turned it down and will say so when it is turned up again.
        return _Chances(LOGGED_CHANCE if logged else FALL_CHANCE, SHIFT_CHANCE, nothing, nothing)
    back = -np.expm1(-STEP_S / _BACK_S)
    if not logged:
        return _Chances(FALL_CHANCE, SHIFT_CHANCE, _STAYS, back)
    if lowered is None:
        return _Chances(0.5 * LOGGED_CHANCE, 0.5 * LOGGED_CHANCE, _STAYS, back)
    return _Chances(FALL_CHANCE, 0.5 * LOGGED_CHANCE, _STAYS, np.full_like(back, TURNED_UP_CHANCE))


@dataclass(frozen=True)
class _Step:
    """One step of prediction.

    matrix: of the weight, shape (2 t, 2 t), but for what comes back. fall, back: as in ``_Chances``.
    """

    matrix: Floats
    fall: float
    back: Floats

    def matrix_with(self, usual: Floats) -> Floats:
        """The whole matrix. usual: the plateau to which fallen weight comes back, over TARGETS_C."""
        self.matrix[:_SIZE, _SIZE:] = np.multiply.outer(usual, self.back)
        return self.matrix


def _step(chances: _Chances, prior: Floats) -> _Step:
    """The step with these chances. A plateau that is another one from now on lies half where the kitchen's does."""
    drops = chances.fall * _FALLS.T
    elsewhere = 0.5 * prior + 0.5 / _SIZE
    matrix = np.zeros((2 * _SIZE, 2 * _SIZE))
    matrix[:_SIZE, :_SIZE] = (1.0 - chances.fall - chances.shift) * _CREEP + chances.shift * elsewhere[:, None]
    matrix[:_SIZE, :_SIZE] += chances.stays[:, None] * drops
    matrix[_SIZE:, :_SIZE] = (1.0 - chances.stays)[:, None] * drops
    matrix[_SIZE:, _SIZE:] = np.diag(1.0 - chances.back)
    return _Step(matrix, chances.fall, chances.back)


def _usual(usual: Floats, weight: Floats, fallen_chance: float) -> Floats:
    """The plateau to which fallen weight comes back, carried for all of it together: over TARGETS_C, sum 1.

    usual: before. weight: sum 1. fallen_chance: that the target has fallen since.
    """
    plateau = weight[:_SIZE].sum(axis=1)
    standing = float(plateau.sum())
    fresh = fallen_chance * standing
    result: Floats = usual + (plateau / max(standing, _TINY) - usual) * (fresh / max(1.0 - standing + fresh, _TINY))
    return result


def reaction_fade(since_start_s: Floats) -> Floats:
    """What is left of the reaction's heat, as a fraction; 1 at the start, and before it. since_start_s: s."""
    result: Floats = np.exp(-np.maximum(since_start_s, 0.0) / REACTION_FADE_S)
    return result


def reaction_start(events: tuple[Event, ...]) -> float:
    """From when the reaction's heat fades, Unix seconds; -inf where nobody logged a start."""
    return next((event.measured for event in events if event.kind in ("thick trace", "lid on")), -math.inf)


def _likelihoods(grid: Floats, level_c: Floats, events: tuple[Event, ...]) -> Floats:
    """Likelihood of each step of the curve under each target, and each lag with each heat, shape (n - 1, t, l r)."""
    fade = reaction_fade(grid[1:] - 0.5 * STEP_S - reaction_start(events))
    target_c = TARGETS_C[None, :, None, None] + fade[:, None, None, None] * REACTION_K
    decay = np.exp(-STEP_S / LAGS_S)[None, None, :, None]
    before, after = level_c[:-1, None, None, None], level_c[1:, None, None, None]
    off_by_2 = (after - before * decay - target_c * (1.0 - decay)) ** 2
    rough = (1.0 + off_by_2 * (0.5 / ROUGH_NOISE_C**2)) ** -2
    # Now and then a step tells little: the lid was lifted for a stir, logged or not.
    likelihoods: Floats = np.exp(off_by_2 * (-0.5 / STEP_NOISE_C**2)) + ROUGH_SHARE * rough
    disturbed = _disturbed(grid, events)[1:]
    likelihoods[disturbed] = rough[disturbed]
    return likelihoods.reshape(len(grid) - 1, _SIZE, len(LAGS_S) * len(REACTION_K))


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


def _falls() -> Floats:
    """Probability of each fallen target given the plateau, shape (plateaus, targets); rows sum to 1 or are 0."""
    below = TARGETS_C[None, :] <= TARGETS_C[:, None] - FALLEN_K
    off = np.zeros_like(below, dtype=float)
    off[:, 0] = below[:, 0]
    between = below & (TARGETS_C[None, :] > TARGETS_C[0])
    even = between / np.maximum(between.sum(axis=1, keepdims=True), 1)
    rows = _OFF_SHARE * off + (1.0 - _OFF_SHARE) * even
    result: Floats = rows / np.maximum(rows.sum(axis=1, keepdims=True), 1e-12)
    return result


def _creep() -> Floats:
    """One step of a plateau that creeps to its neighbours, shape (targets, targets); rows sum to 1."""
    size = len(TARGETS_C)
    result: Floats = np.eye(size)
    for place in range(size):
        for other in (place - 1, place + 1):
            if 0 <= other < size:
                result[place, other] += CREEP_CHANCE
                result[place, place] -= CREEP_CHANCE
    return result


_FALLS, _CREEP = _falls(), _creep()
_OFF = TARGETS_C < OFF_BELOW_C
_STAYS = np.where(_OFF, _STAYS_OFF, _STAYS_DOWN)
_BACK_S = np.where(_OFF, _BACK_OFF_S, _BACK_DOWN_S)
