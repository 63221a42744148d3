"""A cook's time against that of other cooks of the same kitchen, cause by cause."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import median

from monitor.analysis.attribution import BATCH, PAST_CLEAR
from monitor.analysis.time_loss import NOTHING_S, Loss, TimeLossReport, dearest_first


def compared_with(own: TimeLossReport, others: Sequence[TimeLossReport], reference: str) -> TimeLossReport:
    """A cook's report against others of the same kitchen and reference pace: one, or the median of several.

    reference: what they are called in words. The seconds that the others spent on a cause are taken off evenly from
    the cook's losses of that cause. How late a check usually is, and what batches usually need, is told by the
    bracketed others, where there are any. Raises ValueError when there is no other.
    """
    if not others:
        raise ValueError("others is empty; a reference needs at least one cook")
    causes = list(dict.fromkeys(loss.cause for report in (own, *others) for loss in report.losses))
    # Without a sample that was not clear, what a cook spent past clear is a guess from the need, and its batch with it.
    bracketed = [other for other in others if other.bracketed] or others
    usual = {
        cause: _usual(cause, bracketed if cause in (PAST_CLEAR, BATCH) else others, len(own.weights))
        for cause in causes
    }
    losses: list[Loss] = []
    for cause in causes:
        mine = [loss for loss in own.losses if loss.cause == cause]
        if mine:
            losses += [_less(loss, usual[cause], len(mine)) for loss in mine]
        elif usual[cause].seconds:
            text = f"The reference lost this to {cause}; this cook did not."
            nothing = Loss(cause, own.began, own.ended, 0.0, text, (0.0,) * len(own.weights), 0.0)
            losses.append(replace(_less(nothing, usual[cause], 1), advice=text))
    reference_s = own.reference_s + math.fsum(one.seconds for one in usual.values())
    return replace(own, reference=reference, reference_s=reference_s, losses=dearest_first(losses))


@dataclass(frozen=True)
class _UsualLoss:
    """What others spent on one cause; the fields are those of a loss."""

    seconds: float
    possible_s: tuple[float, ...]
    variance_s2: float


def _usual(cause: str, others: Sequence[TimeLossReport], pairs: int) -> _UsualLoss:
    """The median of what these spent on a cause. pairs: number of pairs of activation energy and mixing floor."""
    cooks = [[loss for loss in other.losses if loss.cause == cause] for other in others]
    possible_s = tuple(median(sum(loss.possible_s[i] for loss in own) for own in cooks) for i in range(pairs))
    variance_s2 = sum(loss.variance_s2 for own in cooks for loss in own) / len(cooks) ** 2
    # The median of several scatters more than their mean, in the end by this (normal distribution).
    return _UsualLoss(
        median(other.of(cause) for other in others),
        possible_s,
        variance_s2 * (math.pi / 2.0 if len(cooks) > 2 else 1.0),
    )


def _less(loss: Loss, usual: _UsualLoss, sharing: int) -> Loss:
    """The loss without its part of what is usual, which ``sharing`` losses of one cause share evenly."""
    possible_s = zip(loss.possible_s, usual.possible_s, strict=True)
    less = replace(
        loss,
        seconds=loss.seconds - usual.seconds / sharing,
        possible_s=tuple(mine_s - usual_s / sharing for mine_s, usual_s in possible_s),
        variance_s2=loss.variance_s2 + usual.variance_s2 / sharing**2,
    )
    if less.seconds < -NOTHING_S and loss.cause != BATCH:
        return replace(less, advice="It cost less here than in the reference.")
    return less
