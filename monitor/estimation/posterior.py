"""The posterior of one cook: the prior, updated with everything that was observed of the paste.

The unknowns are the need (equivalent time from thick trace to a clear check, at the reference excess), the activation
energy, the mixing floor and the true excess. By Bayes' rule the posterior weight of a grid point is its prior weight
times the likelihood of each observation there, divided by the sum over the grid.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from monitor.chemistry import NO_OFFSET, PhOffset, as_weighed
from monitor.estimation.composition import composition_of
from monitor.estimation.equivalent_time import EquivalentTime
from monitor.estimation.excess_grid import TITRATED_OFFSETS, ExcessGrid, grid_of, is_short
from monitor.estimation.observation import (
    check_likelihood,
    clear_probability,
    look_likelihood,
    need_per_gram,
    ph_likelihood,
    titration_likelihood,
)
from monitor.estimation.prior import OFFSETS, Prior, blurred, shifted
from monitor.model import Batch, Event, Floats, checks_contradict, is_clear

# Where the whole temperature history is guessed, the need is uncertain by this much more in ln (judgement).
GUESSED_SD = 0.35
# Less guessed than this is not worth a word.
LITTLE_GUESSED = 0.02
# Each of a set of checks that contradict each other counts as this part of one: its likelihood is raised to this
# power (a tempered likelihood; the value is judgement).
CONTRADICTORY_WEIGHT = 0.3
# A belief that this many samples contradict, at this chance of clear each, says that something is wrong with the batch.
CONTRADICTED, SURE = 2, 0.9
# A chance of too little alkali that is worth a sentence (judgement).
LIKELY_SHORT = 0.33

SHORT_BY_WEIGHTS = (
    "Alkali may be short by the weights, and a sample may stay hazy however long it cooks: hold the weights against "
    "the sum. Lye that is missing can still be stirred in, dissolved in water and in parts, with goggles and gloves."
)
SHORT_BY_SAMPLES = (
    "Alkali may be short, for samples stay unclear longer than they should: hold the weights against the sum, or "
    "titrate a sample of paste. Lye that is missing can still be stirred in, dissolved in water and in parts, with "
    "goggles and gloves."
)


@dataclass(frozen=True)
class Posterior:
    """What is known of one cook's unknowns.

    weight: probability over ln need (LN_NEED, in s, at the reference excess), activation energy, mixing floor, and
    excess with its exponent, shape (71, 6, 3, k), sum 1. grid: those pairs. caveats: sentences on what makes the answer
    wide or what may be wrong with the batch.
    """

    weight: Floats
    grid: ExcessGrid
    caveats: tuple[str, ...]

    @cached_property
    def need_weight(self) -> Floats:
        """Probability over this batch's own ln need, activation energy and mixing floor, shape (71, 6, 3).

        On LN_NEED, in s. What its sum lacks to 1 is the probability that a sample never comes clear.
        """
        shifts = self.grid.need_shift
        parts = [shifted(self.weight[..., k], float(s)) for k, s in enumerate(shifts) if np.isfinite(s)]
        return np.sum(parts, axis=0) if parts else np.zeros(self.weight.shape[:3])

    @property
    def excess_weight(self) -> Floats:
        """Probability of each excess, shape (k,)."""
        result: Floats = self.weight.sum(axis=(0, 1, 2))
        return result

    @property
    def never_clear(self) -> float:
        """Probability that the alkali does not suffice for a clear sample."""
        return is_short(self.grid, self.weight)

    def chance_clear(self, converted: Floats) -> float:
        """Probability that a sample reads clear, no reading being simply wrong.

        converted: fraction at every grid point, as ``ExcessGrid.converted`` has it, shape (71, 6, 3, k).
        """
        return float((clear_probability(converted) * self.weight).sum())


def update_posterior(
    prior: Prior,
    equivalent: EquivalentTime,
    events: tuple[Event, ...],
    batch: Batch | None,
    sheet_known: float = 0.0,
) -> Posterior:
    """The prior, updated with every check, titration, look and pH reading of the cook.

    prior: of the kitchen. equivalent: equivalent time from the cook's start on. events: of the cook, in order; checks
    from before the start are left out and named in ``caveats``. batch: for its excess, its composition and its
    strength; without one the reference excess counts. sheet_known: when the sheet became known, Unix seconds.

    Checks count for less where they contradict each other (``model.checks_contradict``). Where temperatures are
    missing, the need is blurred by GUESSED_SD times the guessed share. Observations are taken as independent given
    the need, which two looks at the same paste within minutes are not.

    >>> from monitor.estimation import first_prior, integrate_equivalent_time
    >>> hours = 3600.0 * np.arange(5.0)
    >>> done = integrate_equivalent_time(hours, np.full(5, 93.0), (), 0.0)
    >>> round(float(update_posterior(first_prior(), done, (), None).weight.sum()), 9)
    1.0
    """
    batch = None if batch is None else as_weighed(batch, events, sheet_known)
    offsets = TITRATED_OFFSETS if any(event.kind == "titrated" for event in events) else OFFSETS
    grid = grid_of(batch, offsets)
    caveats: list[str] = []
    checks = [event for event in events if event.kind == "checked"]
    inside = [check for check in checks if equivalent.covers(check.measured)]
    if len(inside) < len(checks):
        caveats.append("A check from before the cook's start is left out.")
    counts_for = 1.0
    if checks_contradict(inside):
        counts_for = CONTRADICTORY_WEIGHT
        caveats.append("Checks contradict each other, so each counts for less.")
    unchecked = prior.for_batch(offsets, composition_of(batch))
    unchecked = _normalised(unchecked * paste_likelihood(grid, equivalent, events, batch, prior.ph_offset))
    weight = unchecked
    for check in sorted(inside, key=is_clear):
        weight = _with_check(weight, check, equivalent, grid, counts_for)
    if equivalent.guessed_share > LITTLE_GUESSED:
        caveats.append("Part of the temperature history is missing, so the answer is wide.")
        weight = blurred(weight, GUESSED_SD * equivalent.guessed_share)
    caveats += _shortage(Posterior(unchecked, grid, ()), Posterior(weight, grid, ()), inside, equivalent)
    return Posterior(weight, grid, tuple(caveats))


def paste_likelihood(
    grid: ExcessGrid,
    equivalent: EquivalentTime,
    events: tuple[Event, ...],
    batch: Batch | None,
    offset: PhOffset = NO_OFFSET,
) -> Floats | float:
    """Likelihood of every look, pH reading and titration of the paste, shape (71, 6, 3, k); 1 where there is none."""
    likelihood: Floats | float = 1.0
    water_added_g = 0.0
    neutralised = False
    for event in events:
        if event.kind == "water added":
            water_added_g += float(event.fields["grams"])
        neutralised = neutralised or event.kind == "neutraliser added"
        if event.kind not in ("looked", "ph read", "titrated") or not equivalent.covers(event.measured):
            continue
        converted = grid.converted(equivalent.at(event.measured))
        if event.kind == "looked":
            likelihood = likelihood * look_likelihood(str(event.fields["paste"]), converted)
        elif not neutralised:
            need = need_per_gram(batch, water_added_g)
            if event.kind == "titrated":
                likelihood = likelihood * titration_likelihood(event, 1.0 + grid.excess - converted, need)
            else:
                likelihood = likelihood * ph_likelihood(event, converted, grid.excess, need, offset)
    return likelihood


def _normalised(weight: Floats) -> Floats:
    result: Floats = weight / weight.sum()
    return result


def _with_check(
    weight: Floats, check: Event, equivalent: EquivalentTime, grid: ExcessGrid, counts_for: float
) -> Floats:
    """Weights updated with a check; same shape, sum 1. counts_for: power of the likelihood, 0 to 1."""
    converted = grid.converted(equivalent.at(check.measured))
    marginal = weight.sum(axis=(0, 3), keepdims=True)
    weight = weight * check_likelihood(str(check.fields["result"]), converted) ** counts_for
    if is_clear(check):
        # A clear check speaks of the need and the excess alone: were it let to shift the activation energy and the
        # mixing too, it could lower the conversion, which no clear sample can.
        weight = weight / weight.sum(axis=(0, 3), keepdims=True) * marginal
    return _normalised(weight)


def _shortage(unchecked: Posterior, posterior: Posterior, checks: list[Event], equivalent: EquivalentTime) -> list[str]:
    """A sentence where the alkali is likely short, by the weights or by the samples; else none.

    unchecked: without any check. checks: of the cook, after its start.
    """
    if any(is_clear(check) for check in checks):
        return []
    grid = unchecked.grid
    surprising = [
        check for check in checks if unchecked.chance_clear(grid.converted(equivalent.at(check.measured))) >= SURE
    ]
    if len(surprising) >= CONTRADICTED or (checks and posterior.never_clear >= LIKELY_SHORT):
        return [SHORT_BY_SAMPLES]
    return [SHORT_BY_WEIGHTS] if posterior.never_clear >= LIKELY_SHORT else []
