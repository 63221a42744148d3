"""The model of a kitchen, fitted to its own finished cooks: a Bayes filter over hierarchical unknowns.

Each finished cook is evidence on its need, interval-censored between its last check that was not clear and the first
that was. Cooks of one kitchen share a kitchen-level need, from which each differs by a cook-level scatter; activation
energy and mixing are the kitchen's. From one cook to the next the kitchen may drift a little or, rarely, change
altogether (predict), and then the cook's likelihood is weighed in (update); so old cooks count for less, and least
when newer ones contradict them.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from monitor.chemistry import as_weighed
from monitor.estimation.composition import FIRST_SLOPES, Composition, Slopes, composition_of
from monitor.estimation.equivalent_time import integrate_equivalent_time
from monitor.estimation.excess_grid import TITRATED_OFFSETS, ExcessGrid, grid_of
from monitor.estimation.observation import check_likelihood
from monitor.estimation.posterior import GUESSED_SD, LITTLE_GUESSED, paste_likelihood
from monitor.estimation.prior import (
    EA,
    EA_J_MOL,
    EA_SD_J_MOL,
    EXCESS_EXPONENTS,
    LN_NEED,
    MIXING_FLOOR,
    MIXING_FLOOR_SD,
    MIXING_FLOORS,
    NEED_FACTOR,
    NEED_MIN,
    OFFSETS,
    Prior,
    blurred,
    first_prior,
    normal_weights,
    offset_places,
    offset_weights,
    pair_weights,
    shifted,
)
from monitor.estimation.resample import block_medians
from monitor.estimation.thermal import settled_at
from monitor.model import Floats, History, checks_contradict, cook_start, is_clear

# Cook-level scatter in ln need, and its probabilities before any cook (judgement around 0.12).
SCATTERS = np.array([0.06, 0.12, 0.20])
SCATTER_WEIGHTS = np.array([0.25, 0.5, 0.25])
# From one cook to the next the kitchen's ln need drifts by this, or with a small chance changes altogether.
DRIFT_SD, CHANGE_CHANCE, CHANGE_SD = 0.03, 0.04, 0.35
# A cook of which a larger share of the equivalent time is guessed teaches nothing of the need.
MOST_GUESSED = 0.3
# Standard deviation of the plateau from cook to cook, degC, and how much each older cook counts against the next.
PLATEAU_SCATTER_C = 2.0
PLATEAU_MEMORY = 0.85
# The paste when the lid goes on, degC: warm oils, and the heat of the lye and of the first reaction (judgement). A
# first reading later than this after the lid, s, tells nothing of it.
USUAL_START_C, START_WITHIN_S = 75.0, 120.0


@dataclass(frozen=True)
class CookEvidence:
    """What one finished cook says of its kitchen.

    likelihood: of what was observed of the paste, over ln need at the reference excess, activation energy, mixing
    floor, and excess with its exponent, shape (71, 6, 3, k), at most 1; flat where it says nothing. grid: those pairs.
    composition: of its oils and water, None where not known. checks: number of checks that counted. bracketed: whether
    one of them was not clear, so that the need is known from below too. plateau_c: where its paste settled, degC, or
    None. start_c: its paste when the lid went on, degC, or None.
    """

    likelihood: Floats
    grid: ExcessGrid
    composition: Composition | None
    checks: int
    plateau_c: float | None
    bracketed: bool = True
    start_c: float | None = None

    def by_pair(self) -> Floats:
        """The likelihood on the kitchen's own pairs of offset and exponent, shape (71, 6, 3, 28).

        More offsets than the kitchen has are averaged about each of its own.
        """
        shape = (*self.likelihood.shape[:3], -1, len(EXCESS_EXPONENTS))
        offsets = self.likelihood.shape[3] // len(EXCESS_EXPONENTS)
        if offsets == OFFSETS:
            return self.likelihood
        if offsets == 1:
            return np.tile(self.likelihood, OFFSETS)
        nearest = np.abs(offset_places(offsets)[None, :] - offset_places(OFFSETS)[:, None]).argmin(axis=0)
        share = offset_weights(offsets) * (nearest[None, :] == np.arange(OFFSETS)[:, None])
        share = share / share.sum(axis=1, keepdims=True)
        result: Floats = np.einsum("ov,ijkve->ijkoe", share, self.likelihood.reshape(shape))
        return result.reshape(*shape[:3], -1)


def cook_evidence(history: History) -> CookEvidence | None:
    """The evidence of a finished cook; None where there is nothing to learn from.

    history: the whole cook. A cook teaches nothing of the need, but its plateau, when more than MOST_GUESSED of its
    equivalent time is guessed, when no check was made within it, or when its checks contradict each other.
    """
    start = cook_start(history)
    if start is None:
        return None
    times, temperatures = block_medians(history)
    keep = (times >= start) & (times <= history.as_of)
    if np.count_nonzero(keep) < 2:
        return None
    at, level = times[keep], temperatures[keep]
    batch = None if history.batch is None else as_weighed(history.batch, history.events, history.sheet_known)
    grid = grid_of(batch, TITRATED_OFFSETS if history.events_of("titrated") else OFFSETS)
    flat = np.ones((len(LN_NEED), len(EA), len(MIXING_FLOORS), len(grid.excess)))
    plateau = settled_at(at - start, level)
    start_c = float(level[0]) if at[0] - start <= START_WITHIN_S else None
    done = integrate_equivalent_time(at, level, history.events, start)
    checks = [event for event in history.events_of("checked") if done.covers(event.measured)]
    if not checks or checks_contradict(checks) or done.guessed_share > MOST_GUESSED:
        unlearned = CookEvidence(flat, grid, None, 0, plateau, start_c=start_c)
        return unlearned if plateau is not None else None
    likelihood = flat * paste_likelihood(grid, done, history.events, batch)
    for check in checks:
        converted = grid.converted(done.at(check.measured))
        likelihood = likelihood * check_likelihood(str(check.fields["result"]), converted)
    if done.guessed_share > LITTLE_GUESSED:
        likelihood = blurred(likelihood, GUESSED_SD * done.guessed_share)
    return CookEvidence(
        likelihood / likelihood.max(),
        grid,
        composition_of(batch),
        len(checks),
        plateau,
        not all(map(is_clear, checks)),
        start_c,
    )


@cache
def _transition(sd: float) -> Floats:
    """The matrix of a normal step of this standard deviation in ln need, shape (71, 71); its rows sum to 1."""
    return np.array([normal_weights(LN_NEED, float(centre), sd) for centre in LN_NEED])


@dataclass(frozen=True)
class KitchenModel:
    """What is known of a kitchen.

    weight: probability over cook-level scatter, kitchen-level ln need (s, at the reference excess), activation energy,
    mixing floor, and excess offset with exponent, shape (3, 71, 6, 3, 28), sum 1. slopes: how ln need follows oils
    and water.
    plateau_c, plateau_sd_c: where the next cook's paste should settle, and its standard deviation, degC.
    cooks: number of cooks that taught the need. bracketed: how many of them had a sample that was not clear. start_c:
    the paste's usual temperature when the lid goes on, degC.
    """

    weight: Floats
    plateau_c: float
    plateau_sd_c: float
    cooks: int
    slopes: Slopes = FIRST_SLOPES
    bracketed: int = 0
    start_c: float = USUAL_START_C

    def prior(self) -> Prior:
        """The prior of the kitchen's next cook: the kitchen's need with the scatter of one cook added."""
        weight = np.zeros(self.weight.shape[1:])
        for sd, part in zip(SCATTERS, self.weight, strict=True):
            weight += along_need(_transition(float(sd)).T, part)
        return Prior(
            weight / np.sum(weight),
            self.plateau_c,
            self.plateau_sd_c,
            self.cooks,
            self.slopes,
            bracketed=self.bracketed,
        )


def _unlearned() -> Floats:
    need = normal_weights(LN_NEED, math.log(NEED_MIN * 60), math.log(NEED_FACTOR))
    ea = normal_weights(EA, EA_J_MOL, EA_SD_J_MOL)
    floor = normal_weights(MIXING_FLOORS, MIXING_FLOOR, MIXING_FLOOR_SD)
    weight: Floats = np.einsum("s,i,j,k,l->sijkl", SCATTER_WEIGHTS, need, ea, floor, pair_weights())
    return weight


def fit_kitchen(cooks: Sequence[CookEvidence]) -> KitchenModel:
    """The model of a kitchen after these cooks, oldest first.

    Predict: w <- D w, with D the drift. Update: w <- w L, with L the cook's likelihood seen through its scatter and
    its excess and composition; w is normalised after each cook.

    >>> fit_kitchen([]).cooks, round(float(fit_kitchen([]).weight.sum()), 9)
    (0, 1.0)
    """
    weight, slopes = _unlearned(), FIRST_SLOPES
    drift = (1.0 - CHANGE_CHANCE) * _transition(DRIFT_SD) + CHANGE_CHANCE * _transition(CHANGE_SD)
    fitted = bracketed = 0
    for cook in cooks:
        if not cook.checks:
            continue
        weight = np.stack([along_need(drift.T, part) for part in weight])
        move, sd = (0.0, 0.0) if cook.composition is None else slopes.shift(cook.composition)
        likelihood = cook.by_pair()
        if cook.composition is not None:
            slopes = _slopes_after(slopes, cook.composition, weight, likelihood)
        for index, scatter in enumerate(SCATTERS):
            spread = _transition(round(math.hypot(float(scatter), sd), 3))
            weight[index] *= at_kitchen_need(along_need(spread, likelihood), move)
        weight /= weight.sum()
        fitted += 1
        bracketed += cook.bracketed
    plateau_c, plateau_sd_c = _plateau([cook.plateau_c for cook in cooks if cook.plateau_c is not None])
    # What is usual counts as one cook more.
    starts_c = [USUAL_START_C, *(cook.start_c for cook in cooks if cook.start_c is not None)]
    return KitchenModel(weight, plateau_c, plateau_sd_c, fitted, slopes, bracketed, float(np.median(starts_c)))


def _slopes_after(slopes: Slopes, composition: Composition, weight: Floats, likelihood: Floats) -> Slopes:
    """The slopes after a cook, whose ln need is compared with what the kitchen and the slopes had expected.

    weight: of the kitchen before the cook, shape (3, 71, 6, 3, 28). likelihood: of the cook, shape (71, 6, 3, 28).
    """
    move, sd = slopes.shift(composition)
    expected = sum(
        along_need(_transition(round(math.hypot(float(scatter), sd), 3)).T, part)
        for scatter, part in zip(SCATTERS, weight, strict=True)
    )
    expected = shifted(np.asarray(expected), move)
    return slopes.learned(composition, _moments(expected), _moments(expected * likelihood))


def along_need(matrix: Floats, weight: Floats) -> Floats:
    """A matrix, shape (71, 71), applied along LN_NEED, which is axis 0 of the weights; same shape."""
    result: Floats = (matrix @ weight.reshape(len(LN_NEED), -1)).reshape(weight.shape)
    return result


def _moments(weight: Floats) -> tuple[float, float]:
    """Mean and variance of ln need. weight: over LN_NEED along axis 0."""
    marginal = weight.reshape(len(LN_NEED), -1).sum(axis=1)
    marginal = marginal / marginal.sum()
    mean = float(marginal @ LN_NEED)
    return mean, float(marginal @ (LN_NEED - mean) ** 2)


def at_kitchen_need(likelihood: Floats, ln_shift: float) -> Floats:
    """A likelihood of a batch's ln need as one of the kitchen's need; same shape.

    likelihood: over LN_NEED along axis 0, shape (71, ...). ln_shift: ln of the batch's need over the kitchen's.
    """
    places = np.clip((np.arange(len(LN_NEED)) + ln_shift / float(LN_NEED[1] - LN_NEED[0])), 0, len(LN_NEED) - 1)
    lower = np.minimum(places.astype(np.int64), len(LN_NEED) - 2)
    part = (places - lower).reshape(-1, *([1] * (likelihood.ndim - 1)))
    result: Floats = (1.0 - part) * likelihood[lower] + part * likelihood[lower + 1]
    return result


def _plateau(seen_c: list[float]) -> tuple[float, float]:
    """The plateau of the next cook and its standard deviation, degC.

    seen_c: plateaus of earlier cooks, oldest first. A normal mean of the first prior and these, each older one
    weighted by PLATEAU_MEMORY more.
    """
    start = first_prior()
    trust = (PLATEAU_SCATTER_C / start.plateau_sd_c) ** 2
    weights = [PLATEAU_MEMORY**age for age in range(len(seen_c) - 1, -1, -1)]
    total = trust + sum(weights)
    mean = (trust * start.plateau_c + sum(w * c for w, c in zip(weights, seen_c, strict=True))) / total
    spread = trust * (start.plateau_c - mean) ** 2 + sum(
        w * (c - mean) ** 2 for w, c in zip(weights, seen_c, strict=True)
    )
    within = (spread + 2.0 * PLATEAU_SCATTER_C**2) / (sum(weights) + 2.0)
    return mean, math.sqrt(max(within, 1.0) + PLATEAU_SCATTER_C**2 / total)
