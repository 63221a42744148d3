"""Where the time went: how long a cook took beyond an ideal one, split into causes that add up to the second.

Against a steady pace r0 = f0 m0 (the rate at the reference plateau, stirred every 35 minutes) a cook with rate f m
loses exactly the integral of 1 - F M, with F = f/f0 and M = m/m0. Second by second it is shared between temperature
and mixing as (1-F)(1+M)/2 and (1-M)(1+F)/2, Shapley's shares of two causes: they add up to 1 - F M, and neither
depends on which cause is counted first. The share of temperature goes on, again additively, to the plateau, the
warm-up and the spells. What follows the moment of clear is time cooked past it; what is left is the need of this
batch against the reference need at the same pace.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import median

import numpy as np

from monitor.analysis.advice import advice, in_doubt
from monitor.detection import GRID_S, Disturbance, DisturbanceReport, falls, find_disturbances, going_on
from monitor.estimation import (
    EA,
    FADE_S,
    FLOORS,
    LN_NEED,
    NEED_S,
    STIR_INTERVAL_S,
    BlockMedian,
    EquivalentTime,
    Posterior,
    Prior,
    arrhenius_factor,
    integrate_equivalent_time,
    mean_mixing_factor,
    mixing_factor,
    update_posterior,
)
from monitor.model import LONGEST_GRID_S, Event, Floats, History, cook_start

WARM_UP, PLATEAU, STIRS, PAST_CLEAR, BATCH = "slow warm-up", "low plateau", "late stirs", "late check", "batch and oils"
# Less is the dust of sums, whose sign may differ from machine to machine.
NOTHING_S = 0.5
# What costs less is named beside nothing.
LEAST_RIVAL_S = 300.0


@dataclass(frozen=True)
class ReferencePace:
    """The pace that time is counted against: the same for every ledger that is compared.

    ea_j_mol, floor: what the kitchen believes on average. plateau_c: where its paste usually settles. need_s:
    equivalent time that its batches need at the reference excess.
    """

    ea_j_mol: float
    floor: float
    plateau_c: float
    need_s: float

    @property
    def mean_mixing(self) -> float:
        """The mixing factor averaged over common practice."""
        return float(mean_mixing_factor(STIR_INTERVAL_S, self.floor, FADE_S))

    @property
    def pace(self) -> float:
        """Equivalent seconds in one second at the plateau, stirred by common practice."""
        return float(arrhenius_factor(self.plateau_c, self.ea_j_mol)) * self.mean_mixing

    @property
    def ideal_s(self) -> float:
        """How long the ideal cook takes from lid on to clear."""
        return self.need_s / self.pace


@dataclass(frozen=True)
class Loss:
    """One cause and what it cost, in seconds against the reference; below zero it was quicker.

    begins, ends: Unix seconds, its place on the curve. advice: one sentence. possible_s: what it cost by each pair of
    activation energy and mixing floor that the kitchen may have, in the order of ``TimeLossReport.weights``.
    variance_s2: of what else is not known of it.
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
    reference_s: how long the reference takes. entries: the dearest first, batch and oils last; their seconds add up
    to ``seconds``. bracketed: whether a sample that was not clear tells since when it can have been. weights: how
    far each pair of activation energy and mixing floor is believed; they sum to 1.
    """

    began: float
    ended: float
    reference: str
    reference_s: float
    entries: tuple[Loss, ...]
    bracketed: bool
    weights: tuple[float, ...]

    @property
    def seconds(self) -> float:
        """How much longer than the reference the cook took."""
        return self.ended - self.began - self.reference_s

    @property
    def main(self) -> Loss | None:
        """The cause that cost most, batch and oils left out; None where none cost anything."""
        first = next((entry for entry in self.entries if entry.cause != BATCH), None)
        return first if first is not None and first.seconds >= NOTHING_S else None

    @property
    def rivals(self) -> tuple[Loss, ...]:
        """Entries of other causes that may have cost as much as the main one: they lag by less than one sigma."""
        main = self.main
        if main is None:
            return ()
        dear = [one for one in self.entries if one.cause not in (main.cause, BATCH) and one.seconds >= LEAST_RIVAL_S]
        return tuple(one for one in dear if main.seconds - one.seconds < self._sigma_s(main, one))

    @property
    def in_doubt(self) -> str:
        """One sentence where the main cause may not be the dearest, else nothing."""
        return in_doubt([one.cause for one in self.rivals])

    def _sigma_s(self, one: Loss, other: Loss) -> float:
        weights, lead_s = np.array(self.weights), np.array(one.possible_s) - np.array(other.possible_s)
        variance_s2 = float(weights @ (lead_s - weights @ lead_s) ** 2)
        return math.sqrt(variance_s2 + one.variance_s2 + other.variance_s2)

    def of(self, cause: str) -> float:
        """Seconds that all entries of a cause cost together."""
        return math.fsum(entry.seconds for entry in self.entries if entry.cause == cause)


def reference_pace(prior: Prior) -> ReferencePace:
    """The pace by which a kitchen's cooks are compared."""
    shares = prior.weight.sum(axis=3)
    return ReferencePace(
        float(shares.sum(axis=(0, 2)) @ EA),
        float(shares.sum(axis=(0, 1)) @ FLOORS),
        prior.plateau_c,
        math.exp(float(shares.sum(axis=(1, 2)) @ LN_NEED)),
    )


def attribute_time_loss(history: History, prior: Prior) -> TimeLossReport | None:
    """Where the time of an ended cook went, against the ideal at the kitchen's plateau.

    None where there is nothing to split: it has no start, no temperatures, no end yet, or lasted longer than any.
    """
    start, end = cook_start(history), ended_at(history)
    if start is None or end is None or not 0.0 < end - start <= LONGEST_GRID_S:
        return None
    blocks = BlockMedian()
    blocks.extend(*history.temperature_c("paste"))
    times, temperatures = blocks.arrays()
    keep = (times > start) & (times < end)
    if np.count_nonzero(keep) < 2:
        return None
    edges = np.array([start, end])
    at = np.concatenate([edges[:1], times[keep], edges[1:]])
    level = np.concatenate(
        [np.interp(edges[:1], times, temperatures), temperatures[keep], np.interp(edges[1:], times, temperatures)]
    )
    events = tuple(event for event in history.events if event.measured <= end)
    done = integrate_equivalent_time(at, level, events, start)
    belief = update_posterior(prior, done, events, history.batch)
    stick = reference_pace(prior)
    found = find_disturbances(at, level, falls(history), events, stick.plateau_c)
    unclear = [e.measured for e in events if e.kind == "checked" and e.fields.get("result") != "clear"]
    past_clear_s, variance_s2 = _past_clear_s(done, belief, max([start, *unclear]))
    drafts = _split(at, level, events, stick, found, end - past_clear_s)
    every = [_split(at, level, events, other, found, end - past_clear_s) for other in _alternative_paces(stick)]
    possible = [tuple(drafts_then[i].seconds for drafts_then in every) for i in range(len(drafts))]
    drafts.append(_RawLoss(PAST_CLEAR, end - past_clear_s, end, past_clear_s))
    spent_s = math.fsum(draft.seconds for draft in drafts)
    drafts.append(_RawLoss(BATCH, start, end, end - start - stick.ideal_s - spent_s))
    possible += [(draft.seconds,) * len(every) for draft in drafts[-2:]]
    entries = [
        Loss(
            d.cause,
            d.begins,
            d.ends,
            d.seconds,
            advice(d.cause, d.seconds, d.brief, d.logged, found.plateau_c, stick.plateau_c),
            possible_s,
            variance_s2 if d.cause == PAST_CLEAR else 0.0,
        )
        for d, possible_s in zip(drafts, possible, strict=True)
    ]
    return TimeLossReport(
        start,
        end,
        "an ideal cook at the kitchen's plateau",
        stick.ideal_s,
        _ordered(entries),
        bool(unclear),
        tuple(prior.weight.sum(axis=(0, 3)).ravel().tolist()),
    )


def _alternative_paces(stick: ReferencePace) -> list[ReferencePace]:
    """The yardstick by every pair of activation energy and mixing floor, in the order of a prior's weights."""
    return [replace(stick, ea_j_mol=float(ea), floor=float(floor)) for ea in EA for floor in FLOORS]


def ended_at(history: History) -> float | None:
    """When cooking ended: the clear check after which none was otherwise, else finished; None while it goes on."""
    checks = history.events_of("checked")
    clear = None
    for check in checks:
        clear = (clear or check.measured) if check.fields.get("result") == "clear" else None
    if clear is not None:
        return clear
    return history.finished()


def compared_with(own: TimeLossReport, others: Sequence[TimeLossReport], reference: str) -> TimeLossReport:
    """The same cook against others of the same kitchen and yardstick: one, or the median of several, cause by cause.

    What the reference itself spent on a cause is taken off evenly from the cook's entries of that cause. How late a
    check usually is, and what batches usually need, is told by the others that were bracketed, where there are any.
    Raises ValueError when there is no other.
    """
    if not others:
        raise ValueError("others is empty; a reference needs at least one cook")
    causes = list(dict.fromkeys(entry.cause for one in (own, *others) for entry in one.entries))
    # Without a sample that was not clear, what a cook spent past clear is a guess from the need, and its batch with it.
    bracketed = [other for other in others if other.bracketed] or others
    usual = {
        cause: _usual(cause, bracketed if cause in (PAST_CLEAR, BATCH) else others, len(own.weights))
        for cause in causes
    }
    entries: list[Loss] = []
    for cause in causes:
        mine = [entry for entry in own.entries if entry.cause == cause]
        if mine:
            entries += [_less(entry, usual[cause], len(mine)) for entry in mine]
        elif usual[cause].seconds:
            words = f"The reference lost this to {cause}; this cook did not."
            nothing = Loss(cause, own.began, own.ended, 0.0, words, (0.0,) * len(own.weights), 0.0)
            entries.append(replace(_less(nothing, usual[cause], 1), advice=words))
    reference_s = own.reference_s + math.fsum(one.seconds for one in usual.values())
    return replace(own, reference=reference, reference_s=reference_s, entries=_ordered(entries))


@dataclass(frozen=True)
class _UsualLoss:
    """What others spent on one cause; the fields are those of an entry."""

    seconds: float
    possible_s: tuple[float, ...]
    variance_s2: float


def _usual(cause: str, others: Sequence[TimeLossReport], pairs: int) -> _UsualLoss:
    """The median of what these spent on a cause."""
    found = [[entry for entry in other.entries if entry.cause == cause] for other in others]
    possible_s = tuple(median(sum(entry.possible_s[i] for entry in own) for own in found) for i in range(pairs))
    variance_s2 = sum(entry.variance_s2 for own in found for entry in own) / len(found) ** 2
    # The median of several scatters more than their mean, in the end by this (normal distribution).
    return _UsualLoss(
        median(other.of(cause) for other in others),
        possible_s,
        variance_s2 * (math.pi / 2.0 if len(found) > 2 else 1.0),
    )


def _less(entry: Loss, usual: _UsualLoss, entries: int) -> Loss:
    """The entry without its even part, one of so many, of what is usual."""
    possible_s = zip(entry.possible_s, usual.possible_s, strict=True)
    less = replace(
        entry,
        seconds=entry.seconds - usual.seconds / entries,
        possible_s=tuple(mine_s - usual_s / entries for mine_s, usual_s in possible_s),
        variance_s2=entry.variance_s2 + usual.variance_s2 / entries**2,
    )
    if less.seconds < -NOTHING_S and entry.cause != BATCH:
        return replace(less, advice="It cost less here than in the reference.")
    return less


def _ordered(entries: list[Loss]) -> tuple[Loss, ...]:
    return tuple(sorted(entries, key=lambda entry: (entry.cause == BATCH, -entry.seconds)))


@dataclass(frozen=True)
class _RawLoss:
    cause: str
    begins: float
    ends: float
    seconds: float
    brief: bool = False
    logged: bool = False


def _past_clear_s(done: EquivalentTime, belief: Posterior, not_before: float) -> tuple[float, float]:
    """The expected time cooked past clear, in hindsight, and its variance, s and s2.

    not_before: Unix seconds when a sample last was not clear.
    """
    end = float(done.times[-1])
    total_s, total_s2 = 0.0, 0.0
    for e in range(len(EA)):
        for f in range(len(FLOORS)):
            clear = np.interp(NEED_S, done.equivalent_s[:, e, f], done.times, right=end)
            past_s = end - np.maximum(clear, not_before)
            total_s += float(belief.weight[:, e, f] @ past_s)
            total_s2 += float(belief.weight[:, e, f] @ past_s**2)
    return total_s, max(0.0, total_s2 - total_s**2)


def _split(
    at: Floats, level: Floats, events: tuple[Event, ...], stick: ReferencePace, found: DisturbanceReport, clear: float
) -> list["_RawLoss"]:
    """The time lost up to clear (Unix seconds), shared among plateau, warm-up, spells and stirs."""
    stirs = np.array([at[0], *(e.measured for e in events if e.kind == "stirred" and at[0] < e.measured < clear)])
    spells = [spell for spell in found.spells if spell.begins < clear]
    borders = [border for spell in spells for border in (spell.begins, spell.ends)]
    cuts = np.array([border for border in (*borders, *stirs, found.warm, clear) if at[0] < border <= clear])
    whole = np.unique(np.concatenate([at[at < clear], cuts, [clear]]))
    temperature_c = np.interp(whole, at, level)
    middle, steps = 0.5 * (whole[1:] + whole[:-1]), np.diff(whole)
    reached = 0.5 * (temperature_c[1:] + temperature_c[:-1])
    since = middle - stirs[np.searchsorted(stirs, middle, side="right") - 1]
    mixing = mixing_factor(since, stick.floor, FADE_S) / stick.mean_mixing
    heat, own_plateau = _paces(stick, reached), float(_paces(stick, found.plateau_c))
    drafts: list[_RawLoss] = []
    undisturbed = reached.copy()
    in_spell = np.full(len(middle), -1)
    for number, spell in enumerate(spells):
        inside = (middle > spell.begins) & (middle < spell.ends)
        in_spell[inside] = number
        undisturbed[inside] = _without(spell, middle[inside], at, level, found.plateau_c)
    calm = _paces(stick, undisturbed)
    by_heat = 0.5 * (1.0 + mixing) * steps
    spell_s = (calm - heat) * by_heat
    for number, spell in enumerate(spells):
        cost_s = float(spell_s[in_spell == number].sum())
        drafts.append(_RawLoss(spell.kind, spell.begins, spell.ends, cost_s, spell.brief, spell.logged))
    rest_s = (own_plateau - calm) * by_heat
    warming = middle < found.warm
    drafts.append(_RawLoss(WARM_UP, float(at[0]), min(found.warm, clear), float(rest_s[warming].sum())))
    low_s = float(((1.0 - own_plateau) * by_heat).sum() + rest_s[~warming].sum())
    drafts.append(_RawLoss(PLATEAU, min(found.warm, clear), clear, low_s))
    stir_s = float(((1.0 - mixing) * 0.5 * (1.0 + heat) * steps).sum())
    longest = int(np.argmax(np.diff(np.append(stirs, clear))))
    drafts.append(_RawLoss(STIRS, float(stirs[longest]), float(np.append(stirs, clear)[longest + 1]), stir_s))
    return drafts


def _paces(stick: ReferencePace, temperature_c: Floats | float) -> Floats:
    """The rate at these temperatures over that at the reference plateau."""
    return arrhenius_factor(temperature_c, stick.ea_j_mol, stick.plateau_c)


def _without(spell: Disturbance, middle: Floats, at: Floats, level: Floats, plateau_c: float) -> Floats:
    """The temperature, degC, that the paste would have had but for this spell."""
    before, after = (float(np.interp(border, at, level)) for border in (spell.begins, spell.ends))
    if spell.brief:
        result: Floats = np.interp(middle, [spell.begins, spell.ends], [before, after])
        return result
    would_be = going_on(before, plateau_c, middle - spell.begins)
    if not spell.short_c:
        return would_be
    minutes = np.arange(len(spell.short_c)) * GRID_S
    put_back = np.interp(middle, at, level) + np.interp(middle - spell.turned, minutes, spell.short_c)
    mended: Floats = np.where(middle < spell.turned, would_be, put_back)
    return mended
