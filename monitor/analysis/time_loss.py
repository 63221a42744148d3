"""Where the time went: how long a cook took beyond an ideal one, split into causes that add up to the second.

What was lost before the paste came clear is shared among causes in ``attribution``. The time after that is time cooked
past clear; the rest is the need of this batch against the reference need at the same pace.
"""

import math
from dataclasses import dataclass

import numpy as np

from monitor.analysis.advice import advice, in_doubt
from monitor.analysis.attribution import BATCH, PAST_CLEAR, RawLoss, losses_before_clear, past_clear_s
from monitor.analysis.reference import alternative_paces, reference_pace
from monitor.detection import falls, find_disturbances
from monitor.estimation import Prior, block_medians, integrate_equivalent_time, update_posterior
from monitor.model import LONGEST_GRID_S, Floats, History, cook_end, cook_start, last_not_clear

# Less is the rounding of sums, whose sign may differ from machine to machine.
NOTHING_S = 0.5
# A cause that cost less is not named beside the main one.
LEAST_RIVAL_S = 300.0


@dataclass(frozen=True)
class Loss:
    """One cause and what it cost.

    begins, ends: Unix seconds, its place on the curve. seconds: against the reference; below 0 the cook was quicker.
    advice: one sentence. possible_s: seconds by each pair of activation energy and mixing floor that the kitchen may
    have, in the order of ``TimeLossReport.weights``. variance_s2: of ``seconds``, from whatever else is uncertain.
    """

    cause: str
    begins: float
    ends: float
    seconds: float
    advice: str
    possible_s: tuple[float, ...]
    variance_s2: float


@dataclass(frozen=True)
class TimeLossReport:
    """A cook's time against a reference.

    began, ended: Unix seconds, from lid on to the clear check (else to the end). reference: in words.
    reference_s: how long the reference takes. losses: the dearest first, batch and oils last; their seconds add up
    to ``seconds``. bracketed: whether a sample that was not clear bounds when the paste came clear from below.
    weights: probability of each pair of activation energy and mixing floor, sum 1.
    """

    began: float
    ended: float
    reference: str
    reference_s: float
    losses: tuple[Loss, ...]
    bracketed: bool
    weights: tuple[float, ...]

    @property
    def seconds(self) -> float:
        """How much longer than the reference the cook took."""
        return self.ended - self.began - self.reference_s

    @property
    def main(self) -> Loss | None:
        """The cause that cost most, batch and oils left out; None where none cost anything."""
        first = next((loss for loss in self.losses if loss.cause != BATCH), None)
        return first if first is not None and first.seconds >= NOTHING_S else None

    @property
    def rivals(self) -> tuple[Loss, ...]:
        """Losses of other causes that may have cost as much as the main one: they are less by under one sigma."""
        main = self.main
        if main is None:
            return ()
        others = [loss for loss in self.losses if loss.cause not in (main.cause, BATCH)]
        dear = [loss for loss in others if loss.seconds >= LEAST_RIVAL_S]
        return tuple(loss for loss in dear if main.seconds - loss.seconds < self._sigma_s(main, loss))

    @property
    def in_doubt(self) -> str:
        """One sentence where the main cause may not be the dearest, else nothing."""
        return in_doubt([loss.cause for loss in self.rivals])

    def _sigma_s(self, main: Loss, other: Loss) -> float:
        """The standard deviation of the difference of two losses, s."""
        weights, lead_s = np.array(self.weights), np.array(main.possible_s) - np.array(other.possible_s)
        variance_s2 = float(weights @ (lead_s - weights @ lead_s) ** 2)
        return math.sqrt(variance_s2 + main.variance_s2 + other.variance_s2)

    def of(self, cause: str) -> float:
        """Seconds that all losses of a cause cost together."""
        return math.fsum(loss.seconds for loss in self.losses if loss.cause == cause)


def attribute_time_loss(history: History, prior: Prior) -> TimeLossReport | None:
    """Where the time of an ended cook went, against the ideal at the kitchen's plateau.

    prior: of the kitchen, by which all its cooks are counted. None where there is nothing to split: the cook has no
    start, no temperatures, no end yet, or lasted longer than LONGEST_GRID_S.
    """
    start, end = cook_start(history), cook_end(history)
    if start is None or end is None or not 0.0 < end - start <= LONGEST_GRID_S:
        return None
    curve = _curve(history, start, end)
    if curve is None:
        return None
    at, level_c = curve
    events = tuple(event for event in history.events if event.measured <= end)
    equivalent = integrate_equivalent_time(at, level_c, events, start)
    posterior = update_posterior(prior, equivalent, events, history.batch)
    reference = reference_pace(prior)
    report = find_disturbances(at, level_c, falls(history), events, reference.plateau_c)
    not_clear = last_not_clear([event for event in events if event.kind == "checked"], end)
    past_s, variance_s2 = past_clear_s(equivalent, posterior, start if not_clear is None else max(start, not_clear))
    clear = end - past_s
    raw = losses_before_clear(at, level_c, events, reference, report, clear)
    by_pace = [losses_before_clear(at, level_c, events, pace, report, clear) for pace in alternative_paces(reference)]
    possible_s = [tuple(losses[i].seconds for losses in by_pace) for i in range(len(raw))]
    raw.append(RawLoss(PAST_CLEAR, clear, end, past_s))
    spent_s = math.fsum(loss.seconds for loss in raw)
    raw.append(RawLoss(BATCH, start, end, end - start - reference.ideal_s - spent_s))
    # What was cooked past clear and what the batch needed do not hang on the pace.
    possible_s += [(loss.seconds,) * len(by_pace) for loss in raw[-2:]]
    losses = [
        _advised(loss, own_s, variance_s2 if loss.cause == PAST_CLEAR else 0.0, report.plateau_c, reference.plateau_c)
        for loss, own_s in zip(raw, possible_s, strict=True)
    ]
    return TimeLossReport(
        start,
        end,
        "an ideal cook at the kitchen's plateau",
        reference.ideal_s,
        dearest_first(losses),
        not_clear is not None,
        tuple(prior.weight.sum(axis=(0, 3)).ravel().tolist()),
    )


def _curve(history: History, start: float, end: float) -> tuple[Floats, Floats] | None:
    """Times (Unix seconds) and temperatures (degC) from start to end, both included, shape (n,); None where too few."""
    times, temperatures_c = block_medians(history)
    inside = (times > start) & (times < end)
    if np.count_nonzero(inside) < 2:
        return None
    at = np.concatenate([[start], times[inside], [end]])
    return at, np.interp(at, times, temperatures_c)


def _advised(
    loss: RawLoss, possible_s: tuple[float, ...], variance_s2: float, plateau_c: float, usual_c: float
) -> Loss:
    """A loss with its sentence of advice. plateau_c, usual_c: of this cook and of the kitchen, degC."""
    text = advice(loss.cause, loss.seconds, loss.brief, loss.logged, plateau_c, usual_c)
    return Loss(loss.cause, loss.begins, loss.ends, loss.seconds, text, possible_s, variance_s2)


def dearest_first(losses: list[Loss]) -> tuple[Loss, ...]:
    """The losses in the order of a report: the dearest first, batch and oils last."""
    return tuple(sorted(losses, key=lambda loss: (loss.cause == BATCH, -loss.seconds)))
