"""What a posterior predicts: conversion now, what a sample would show, and when the paste comes clear."""

from dataclasses import dataclass

import numpy as np

from monitor.estimation.clear_time import ClearTimeDistribution, clear_times_from
from monitor.estimation.equivalent_time import EquivalentTime
from monitor.estimation.kinetics import accumulate, arrhenius_factor, law_converted, mean_mixing_factor
from monitor.estimation.observation import reading_probabilities
from monitor.estimation.posterior import Posterior
from monitor.estimation.prior import EA, MIXING_FADE_S, MIXING_FLOORS, NEED_S
from monitor.estimation.stats import weighted_quantiles
from monitor.model import LONGEST_GRID_S, Floats


@dataclass(frozen=True)
class CheckModel:
    """What a sample would show at a moment, given when the paste comes clear.

    times: Unix seconds along the cook and ahead, shape (n,), ascending. equivalent_s: expected equivalent time there,
    s, shape (n,), rising. effective_excess: the excess that stands in the rate law for the batch's own.
    """

    times: Floats
    equivalent_s: Floats
    effective_excess: float

    def chances(self, checked: Floats, clear_at: Floats) -> tuple[Floats, Floats]:
        """Probabilities of a clear and of a hazy reading, shape (g, m) each.

        checked: when the sample is taken, shape (g,); clear_at: when the paste comes clear, shape (m,). Unix seconds.
        """
        done = np.interp(checked, self.times, self.equivalent_s)
        need = np.maximum(np.interp(clear_at, self.times, self.equivalent_s), 1.0)
        clear, not_cloudy = reading_probabilities(law_converted(done[:, None] / need[None, :], self.effective_excess))
        return clear, not_cloudy - clear


def mean_equivalent_s(posterior: Posterior, equivalent_s: Floats) -> float:
    """The expected equivalent time, s. equivalent_s: s by activation energy and floor, shape (6, 3)."""
    return float((posterior.weight.sum(axis=(0, 3)) * equivalent_s).sum())


def converted_quantiles(posterior: Posterior, converted: Floats, shares: tuple[float, ...]) -> list[float]:
    """Quantiles of the fraction of the fat that is converted, 0 to 1.

    converted: at every grid point, as ``ExcessGrid.converted`` has it, shape (71, 6, 3, k). shares: of the quantiles,
    0 to 1.
    """
    return weighted_quantiles(converted, posterior.weight, shares)


def done_quantiles(posterior: Posterior, equivalent_s: Floats, shares: tuple[float, ...]) -> list[float]:
    """Quantiles of the share of this paste's need that has passed, 0 to 1.

    Equivalent time over the equivalent time that a clear sample takes; at most 1. Where the alkali does not suffice
    for a clear sample, what would be the need at the reference excess stands for it.
    """
    done = posterior.grid.share_of_need(equivalent_s)
    return weighted_quantiles(np.minimum(done, 1.0), posterior.weight, shares)


def excess_quantiles(posterior: Posterior, shares: tuple[float, ...]) -> list[float]:
    """Quantiles of the true excess, fractions of the need."""
    return weighted_quantiles(posterior.grid.excess, posterior.excess_weight, shares)


def clear_times(
    posterior: Posterior, done: EquivalentTime, ahead_s: Floats, paths_c: Floats, path_weights: Floats
) -> ClearTimeDistribution:
    """When the paste falls below the clear threshold, over every grid point and temperature path.

    done: equivalent time up to the history's last moment. ahead_s: seconds from there, ascending from 0, shape (h,).
    paths_c: paste temperature on each path, degC, shape (k, h). path_weights: probabilities, shape (k,), sum 1.

    The needs are this batch's own, and where a sample never comes clear counts as never. A grid point is clear where
    its equivalent time reaches its need: in the history by interpolation, ahead by the integral along the path at the
    mean mixing of this cook's stir interval. Beyond ``ahead_s`` it counts as never.
    """
    last = done.equivalent_s[-1]
    need_weight = posterior.need_weight
    reached = NEED_S[:, None, None] <= last[None]
    moments: list[Floats] = []
    weights: list[Floats] = []
    for e, f in zip(*np.nonzero(reached.any(axis=0)), strict=True):
        hit = reached[:, e, f]
        moments.append(np.interp(NEED_S[hit], done.equivalent_s[:, e, f], done.times))
        weights.append(need_weight[hit, e, f])
    mixing = mean_mixing_factor(done.stir_interval_s, MIXING_FLOORS, MIXING_FADE_S)
    left = np.where(reached, np.inf, (NEED_S[:, None, None] - last[None]) / mixing[None, None, :])
    rates = arrhenius_factor(paths_c[:, :, None], EA[None, None, :])
    # What is left to gain, and the weight, of the grid points that are not there yet; by activation energy.
    pending = ~reached
    to_go = [left[:, e, :][pending[:, e, :]] for e in range(len(EA))]
    shares = [need_weight[:, e, :][pending[:, e, :]] for e in range(len(EA))]
    for k, path_weight in enumerate(path_weights):
        gained = accumulate(ahead_s, rates[k])
        for e in range(len(EA)):
            ahead = np.interp(to_go[e], gained[:, e], ahead_s, right=np.inf)
            moments.append(done.times[-1] + ahead)
            weights.append(path_weight * shares[e])
    earliest = max(float(done.times[0]), float(done.times[-1]) - LONGEST_GRID_S)
    return clear_times_from(np.concatenate(moments), np.concatenate(weights), earliest)


def expected_pace(posterior: Posterior, done: EquivalentTime, ahead_s: Floats, path_c: Floats) -> CheckModel:
    """The expected equivalent time along the cook and ahead, as the check model wants it.

    done: equivalent time up to the history's last moment. ahead_s: seconds from there, ascending from 0, shape (h,).
    path_c: the expected paste temperature, degC, shape (h,).
    """
    shares = posterior.weight.sum(axis=(0, 3))
    behind = np.tensordot(done.equivalent_s, shares, axes=2)
    mixing = mean_mixing_factor(done.stir_interval_s, MIXING_FLOORS, MIXING_FADE_S)
    rate = arrhenius_factor(path_c[:, None], EA[None, :]) @ (shares @ mixing)
    ahead = accumulate(ahead_s, rate)[1:]
    return CheckModel(
        np.concatenate([done.times, done.times[-1] + ahead_s[1:]]),
        np.concatenate([behind, behind[-1] + ahead]),
        posterior.grid.usual_effective(posterior.excess_weight),
    )
