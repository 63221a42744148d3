"""Learning from a kitchen's own cooks.

Each finished cook is evidence on its need, censored between its last check that was not clear and the first that
was. Cooks of one kitchen share a kitchen-level need, from which each differs by a cook-level scatter; activation
energy and mixing are the kitchen's. From one cook to the next the kitchen may drift a little or, rarely, change
altogether, so old cooks count for less, and least when the newer ones contradict them.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from monitor.estimation.posterior import (
    GAP_SHARE_SD,
    check_likelihood,
    excess_shift,
    integrate_equivalent_time,
    smoothed,
)
from monitor.estimation.prior import (
    EA,
    EA_J_MOL,
    EA_SD_J_MOL,
    FLOOR,
    FLOOR_SD,
    FLOORS,
    FOLLOW,
    FOLLOW_SD,
    FOLLOWS,
    LN_NEED,
    NEED_FACTOR,
    NEED_MIN,
    REFERENCE_EXCESS,
    Prior,
    first_prior,
    normal_weights,
)
from monitor.estimation.resample import BlockMedian
from monitor.estimation.thermal import settled_at
from monitor.model import Floats, History, cook_start

# Cook-level scatter in ln need, and what is believed of it before any cook (judgement around 0.12).
SCATTERS = np.array([0.06, 0.12, 0.20])
SCATTER_WEIGHTS = np.array([0.25, 0.5, 0.25])
# From one cook to the next the kitchen's need drifts by this, or with a small chance changes altogether.
DRIFT_SD, CHANGE_CHANCE, CHANGE_SD = 0.03, 0.04, 0.35
# A cook with more of its heat guessed than this teaches nothing of the need.
MOST_GUESSED = 0.3
PLATEAU_SCATTER_C = 2.0
PLATEAU_MEMORY = 0.85


@dataclass(frozen=True)
class CookEvidence:
    """What one finished cook says.

    likelihood: of its checks, over its batch's ln need, activation energy and floor, shape (71, 5, 3); flat where it
    says nothing. ln_shift: by how much the rate law alone moves its ln need from the reference excess.
    checks: how many counted. plateau_c: where its paste settled, or None.
    """

    likelihood: Floats
    ln_shift: float
    checks: int
    plateau_c: float | None


def cook_evidence(history: History) -> CookEvidence | None:
    """What a finished cook teaches; None where there is nothing to learn from.

    A cook whose probe was broken for much of it, or was checked only before it started, teaches nothing of the need.
    """
    start = cook_start(history)
    if start is None:
        return None
    blocks = BlockMedian()
    blocks.extend(*history.temperature_c("paste"))
    times, temperatures = blocks.arrays()
    keep = (times >= start) & (times <= history.as_of)
    if np.count_nonzero(keep) < 2:
        return None
    at, level = times[keep], temperatures[keep]
    flat = np.ones((len(LN_NEED), len(EA), len(FLOORS)))
    plateau = settled_at(at - start, level)
    done = integrate_equivalent_time(at, level, history.events, start)
    checks = [event for event in history.events_of("checked") if start < event.measured <= at[-1] + 180.0]
    results = [str(event.fields["result"]) for event in checks]
    contradictory = "clear" in results and any(result != "clear" for result in results[results.index("clear") :])
    if not checks or contradictory or done.guessed > MOST_GUESSED:
        return CookEvidence(flat, 0.0, 0, plateau) if plateau is not None else None
    excess = history.batch.alkali.excess if history.batch else REFERENCE_EXCESS
    likelihood = flat
    for event, result in zip(checks, results, strict=True):
        likelihood = likelihood * check_likelihood(result, done.at(event.measured), excess)
    if done.guessed > 0.02:
        likelihood = smoothed(likelihood, GAP_SHARE_SD * done.guessed)
    return CookEvidence(likelihood / likelihood.max(), excess_shift(excess), len(checks), plateau)


@cache
def _blur(sd: float) -> Floats:
    """A matrix that blurs the need axis by a normal of this width; its rows sum to 1."""
    return np.array([normal_weights(LN_NEED, float(centre), sd) for centre in LN_NEED])


@dataclass(frozen=True)
class KitchenModel:
    """The belief about a kitchen.

    weight: over scatter, kitchen-level ln need, activation energy, floor and how far the need follows the excess,
    shape (3, 71, 5, 3, 4), sum 1.
    plateau_c, plateau_sd_c: where the next cook's paste should settle. cooks: how many taught the need.
    """

    weight: Floats
    plateau_c: float
    plateau_sd_c: float
    cooks: int

    def prior(self) -> Prior:
        """The belief before the kitchen's next cook."""
        weight = sum(
            np.einsum("ij,jklm->iklm", _blur(float(sd)).T, part) for sd, part in zip(SCATTERS, self.weight, strict=True)
        )
        return Prior(weight / np.sum(weight), self.plateau_c, self.plateau_sd_c, self.cooks)


def _unlearned() -> Floats:
    need = normal_weights(LN_NEED, math.log(NEED_MIN * 60), math.log(NEED_FACTOR))
    ea = normal_weights(EA, EA_J_MOL, EA_SD_J_MOL)
    floor = normal_weights(FLOORS, FLOOR, FLOOR_SD)
    follow = normal_weights(FOLLOWS, FOLLOW, FOLLOW_SD)
    weight: Floats = np.einsum("s,i,j,k,l->sijkl", SCATTER_WEIGHTS, need, ea, floor, follow)
    return weight


def fit_kitchen(lessons: Sequence[CookEvidence]) -> KitchenModel:
    """The belief after these cooks, oldest first."""
    weight = _unlearned()
    drift = (1.0 - CHANGE_CHANCE) * _blur(DRIFT_SD) + CHANGE_CHANCE * _blur(CHANGE_SD)
    taught = 0
    for one in lessons:
        if not one.checks:
            continue
        weight = np.einsum("ij,siklm->sjklm", drift, weight)
        for index, sd in enumerate(SCATTERS):
            seen = np.einsum("ij,jkl->ikl", _blur(float(sd)), one.likelihood)
            for place, follow in enumerate(FOLLOWS):
                weight[index, ..., place] *= seen_from(seen, float(follow) * one.ln_shift)
        weight /= weight.sum()
        taught += 1
    plateau_c, plateau_sd_c = _plateau([one.plateau_c for one in lessons if one.plateau_c is not None])
    return KitchenModel(weight, plateau_c, plateau_sd_c, taught)


def seen_from(likelihood: Floats, ln_shift: float) -> Floats:
    """The likelihood of a batch's ln need, along axis 0, as one of the kitchen's need that lies lower by ln_shift."""
    places = np.clip((np.arange(len(LN_NEED)) + ln_shift / float(LN_NEED[1] - LN_NEED[0])), 0, len(LN_NEED) - 1)
    lower = np.minimum(places.astype(np.int64), len(LN_NEED) - 2)
    part = (places - lower).reshape(-1, *([1] * (likelihood.ndim - 1)))
    result: Floats = (1.0 - part) * likelihood[lower] + part * likelihood[lower + 1]
    return result


def _plateau(seen_c: list[float]) -> tuple[float, float]:
    """The usual plateau and its spread for the next cook, degC: a normal prior and cooks that fade with age."""
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
