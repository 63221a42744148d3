"""The posterior of one cook: the prior, updated with everything that was observed of the paste.

The unknowns are the need (equivalent time from thick trace to a clear check), the activation energy and the mixing
floor, on the grid of ``prior``. By Bayes' rule the posterior weight of a grid point is its prior weight times the
likelihood of each observation there, divided by the sum over the grid.
"""

import math
from dataclasses import dataclass

import numpy as np

from monitor.estimation.equivalent_time import EquivalentTime
from monitor.estimation.kinetics import clear_gain
from monitor.estimation.observation import check_likelihood, look_likelihood, ph_likelihood
from monitor.estimation.prior import LN_NEED, NEED_S, REFERENCE_EXCESS, Prior
from monitor.model import Batch, Event, Floats, checks_contradict, is_clear

# The oils' saponification ranges make the true excess uncertain by about this (science, section 8).
EXCESS_SD = 0.012
# Where the whole temperature history is guessed, the need is uncertain by this much more in ln (judgement).
GUESSED_SD = 0.35
# Less guessed than this is not worth a word.
LITTLE_GUESSED = 0.02
# Each of a set of checks that contradict each other counts as this part of one: its likelihood is raised to this
# power (a tempered likelihood; the value is judgement).
CONTRADICTORY_WEIGHT = 0.3


@dataclass(frozen=True)
class Posterior:
    """What is known of one cook's unknowns.

    weight: probability over this batch's ln need (LN_NEED, in s), activation energy and mixing floor, shape
    (71, 5, 3), sum 1. excess: alkali excess of the batch, fraction of the need. caveats: sentences on what makes the
    answer wide.
    """

    weight: Floats
    excess: float
    caveats: tuple[str, ...]


def excess_shift(excess: float) -> float:
    """ln of the need at an excess over the need at the reference excess, as the rate law has it.

    excess: alkali excess, fraction of the need. The gain k W of ``kinetics.clear_gain`` is averaged in ln over what
    the excess may truly be (normal, EXCESS_SD), by Gauss-Hermite quadrature with seven nodes.

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


def update_posterior(
    prior: Prior, equivalent: EquivalentTime, events: tuple[Event, ...], batch: Batch | None
) -> Posterior:
    """The prior, updated with every check, look and pH reading of the cook.

    prior: of the kitchen. equivalent: equivalent time from the cook's start on. events: of the cook, in order; checks
    from before the start are left out and named in ``caveats``. batch: for its excess and its strength; without one
    the reference excess counts.

    Checks count for less where they contradict each other (``model.checks_contradict``). Where temperatures are
    missing, the need is blurred by GUESSED_SD times the guessed share. Observations are taken as independent given
    the need, which two looks at the same paste within minutes are not.

    >>> from monitor.estimation import first_prior, integrate_equivalent_time
    >>> hours = 3600.0 * np.arange(5.0)
    >>> done = integrate_equivalent_time(hours, np.full(5, 93.0), (), 0.0)
    >>> round(float(update_posterior(first_prior(), done, (), None).weight.sum()), 9)
    1.0
    """
    excess = batch.alkali.excess if batch else REFERENCE_EXCESS
    caveats: list[str] = []
    checks = [event for event in events if event.kind == "checked"]
    inside = [check for check in checks if equivalent.covers(check.measured)]
    if len(inside) < len(checks):
        caveats.append("A check from before the cook's start is left out.")
    counts_for = 1.0
    if checks_contradict(inside):
        counts_for = CONTRADICTORY_WEIGHT
        caveats.append("Checks contradict each other, so each counts for less.")
    weight = _with_weak_observations(prior.for_batch(excess_shift(excess)), equivalent, events, excess, batch)
    for check in sorted(inside, key=is_clear):
        weight = _with_check(weight, check, equivalent, excess, counts_for)
    if equivalent.guessed_share > LITTLE_GUESSED:
        caveats.append("Part of the temperature history is missing, so the answer is wide.")
        weight = blurred(weight, GUESSED_SD * equivalent.guessed_share)
    return Posterior(weight, excess, tuple(caveats))


def _with_weak_observations(
    weight: Floats, equivalent: EquivalentTime, events: tuple[Event, ...], excess: float, batch: Batch | None
) -> Floats:
    """Weights updated with every look and pH reading; shape (71, 5, 3), sum 1."""
    for event in events:
        if event.kind in ("looked", "ph read") and equivalent.covers(event.measured):
            share = equivalent.at(event.measured)[None] / NEED_S[:, None, None]
            if event.kind == "looked":
                weight = weight * look_likelihood(str(event.fields["paste"]), share, excess)
            else:
                weight = weight * ph_likelihood(event, share, excess, batch)
    result: Floats = weight / weight.sum()
    return result


def _with_check(weight: Floats, check: Event, equivalent: EquivalentTime, excess: float, counts_for: float) -> Floats:
    """Weights updated with a check; shape (71, 5, 3), sum 1. counts_for: power of the likelihood, 0 to 1."""
    likelihood = check_likelihood(str(check.fields["result"]), equivalent.at(check.measured), excess) ** counts_for
    marginal = weight.sum(axis=0)
    weight = weight * likelihood
    if is_clear(check):
        # A clear check speaks of the need alone: were it let to shift the activation energy and the mixing too, it
        # could lower the conversion, which no clear sample can.
        weight = weight / weight.sum(axis=0) * marginal
    result: Floats = weight / weight.sum()
    return result


def blurred(weight: Floats, sd: float) -> Floats:
    """Weights with the need axis convolved with a normal density, their sum unchanged.

    weight: over LN_NEED along axis 0, shape (71, ...). sd: of the normal, in ln need; cut off at four sd, and what
    would leave the grid is spread over it.
    """
    step = LN_NEED[1] - LN_NEED[0]
    reach = math.ceil(4 * sd / float(step))
    if reach == 0:
        return weight
    offsets = np.arange(-reach, reach + 1) * step
    kernel = np.exp(-0.5 * (offsets / sd) ** 2)
    kernel /= kernel.sum()
    convolved = np.apply_along_axis(lambda column: np.convolve(column, kernel, mode="same"), 0, weight)
    result: Floats = convolved * (weight.sum() / convolved.sum())
    return result
