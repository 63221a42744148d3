"""How batches turned out, held against what differed between them: the clear ones beside the hazy and cloudy ones.

Each figure of recipe and course is compared by the exact rank-sum test of two samples [1]_, and because several are
looked at, by the step-down rule of [2]_. A figure that tells the groups apart need not be the cause.

References
----------
.. [1] Wilcoxon (1945), Biometrics Bulletin 1, 80-83; Mann and Whitney (1947), Annals of Mathematical Statistics 18,
   50-60. Ties take their mean rank, and the chances are counted over all ways to draw the smaller group.
.. [2] Holm (1979), Scandinavian Journal of Statistics 6, 65-70.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median
from types import MappingProxyType
from typing import Any, TypeAlias

import numpy as np

from monitor.chemistry import batch_excess, batch_portions, group_shares
from monitor.formulation import batch_state, charge_of
from monitor.model import History, clear_bracket, cook_end, cook_start

# What ``outcome_row`` gives, a row for each batch; None and NaN are not known.
OutcomeRows: TypeAlias = Sequence[Mapping[Any, Any]]
CLEAR = "clear"
# Below this a chance counts as none (convention).
LEVEL = 0.05
# With fewer of either kind not even the cleanest difference says anything.
LEAST_EACH = 3
# Column -> what it is called, its unit as written, and the factor from the column to that unit.
OUTCOME_FIGURES: Mapping[str, tuple[str, str, float]] = MappingProxyType(
    {
        "short_chain_share": ("caprylic to myristic acid", "%", 100.0),
        "hydroxy_share": ("ricinoleic acid", "%", 100.0),
        "unsaturated_share": ("oleic, linoleic and linolenic acid", "%", 100.0),
        "long_saturated_share": ("palmitic, stearic and longer acids", "%", 100.0),
        "excess_share": ("alkali in excess", "%", 100.0),
        "lye_strength": ("alkali in the lye", "%", 100.0),
        "soap_share": ("real soap in the product", "%", 100.0),
        "clear_after_min": ("time from lid on to clear", "min", 1.0),
        "hottest_c": ("paste at its hottest", "°C", 1.0),
        "stirs": ("stirs", "", 1.0),
    }
)
OUTCOME_WORDS = ("look", "lather", "thickness", "cloudy_below_c", "complaints", "note")


def outcome_row(history: History) -> dict[str, object] | None:
    """What was said of a batch after its week, latest word first, beside the figures of its recipe and course.

    None where nothing was said. Keys: OUTCOME_WORDS and those of OUTCOME_FIGURES, the latter NaN where not known.
    """
    said = history.events_of("outcome")
    if not said:
        return None
    words: dict[str, object] = {name: said[-1].fields.get(name) for name in OUTCOME_WORDS}
    return {**words, **dict.fromkeys(OUTCOME_FIGURES, math.nan), **_recipe(history), **_course(history)}


def _recipe(history: History) -> dict[str, float]:
    batch = history.batch
    if batch is None or not batch.oils:
        return {}
    shares = group_shares(batch_portions(batch))
    found = dict(zip(list(OUTCOME_FIGURES)[:4], shares.values(), strict=True)) if shares else {}
    excess = batch_excess(batch)
    if excess is not None:
        found["excess_share"] = excess.taken
    try:
        charge = charge_of(batch)
        found |= {"lye_strength": charge.lye_strength, "soap_share": batch_state(charge, history.events).pot.soap_share}
    except ValueError:
        # A sheet that does not add up says nothing of its strength.
        pass
    return found


def _course(history: History) -> dict[str, float]:
    start, end, bracket = cook_start(history), cook_end(history), clear_bracket(history)
    if start is None or end is None:
        return {}
    times, level_c = history.temperature_c("paste")
    inside = level_c[(times >= start) & (times <= end) & np.isfinite(level_c)]
    stirs = [event for event in history.events_of("stirred") if start <= event.measured <= end]
    found = {"stirs": float(len(stirs))}
    if len(inside):
        found["hottest_c"] = float(inside.max())
    if bracket is not None:
        found["clear_after_min"] = (bracket[1] - start) / 60.0
    return found


@dataclass(frozen=True, slots=True)
class OutcomeDifference:
    """One figure of the clear batches beside that of the others.

    column: of OUTCOME_FIGURES. clear, others: its values. chance: two-sided, that groups drawn at random lie as far
    apart. told: whether it is less than chance would do, all figures that were looked at considered.
    """

    column: str
    clear: tuple[float, ...]
    others: tuple[float, ...]
    chance: float
    told: bool = False

    @property
    def medians(self) -> tuple[float, float]:
        """The middle of the clear ones and of the others."""
        return median(self.clear), median(self.others)

    @property
    def chance_text(self) -> str:
        """The chance in words, such as "1 in 20"."""
        return "often" if self.chance > 0.2 else f"1 in {1.0 / self.chance:.0f}"


def outcome_differences(outcomes: OutcomeRows) -> tuple[OutcomeDifference, ...]:
    """Every figure in which the clear batches differ from the others, the least likely by chance first.

    Empty where either group has fewer than LEAST_EACH batches.
    """
    found = []
    for column in OUTCOME_FIGURES:
        known = [(row["look"] == CLEAR, float(row[column])) for row in outcomes if not math.isnan(row[column])]
        clear, others = ([value for is_clear, value in known if is_clear is wanted] for wanted in (True, False))
        if min(len(clear), len(others)) < LEAST_EACH or len({*clear, *others}) == 1:
            continue
        found.append(OutcomeDifference(column, tuple(clear), tuple(others), rank_sum_chance(clear, others)))
    found.sort(key=lambda one: one.chance)
    told = True
    judged = []
    for number, one in enumerate(found):
        told = told and one.chance * (len(found) - number) <= LEVEL
        judged.append(OutcomeDifference(one.column, one.clear, one.others, one.chance, told))
    return tuple(judged)


def rank_sum_chance(first: Sequence[float], second: Sequence[float]) -> float:
    """How likely two groups drawn at random from these values lie as far apart by ranks, two-sided and exact.

    >>> rank_sum_chance([1.0, 2.0, 3.0], [4.0, 5.0, 6.0])
    0.1
    """
    values = sorted([*first, *second])
    # Twice the mean rank, which is a whole number.
    rank = {value: values.index(value) + 1 + len(values) - values[::-1].index(value) for value in set(values)}
    ways: list[dict[int, int]] = [{0: 1}, *({} for _ in first)]
    for value in values:
        for taken in range(len(first), 0, -1):
            for total, count in ways[taken - 1].items():
                at = total + rank[value]
                ways[taken][at] = ways[taken].get(at, 0) + count
    centre = len(first) * (len(values) + 1)
    far = abs(sum(rank[value] for value in first) - centre)
    hit = sum(count for total, count in ways[len(first)].items() if abs(total - centre) >= far)
    return float(Fraction(hit, math.comb(len(values), len(first))))


def outcome_text(outcomes: OutcomeRows) -> list[str]:
    """What the outcomes say, in sentences; first of all whether there are enough of them to say anything."""
    clear = sum(row["look"] == CLEAR for row in outcomes)
    others = len(outcomes) - clear
    counted = f"{clear} clear and {others} hazy or cloudy"
    if min(clear, others) < LEAST_EACH:
        return [
            f"Too few to say: {counted}. From {LEAST_EACH} of each on they are compared, and from about six of each "
            "a clean difference can be told from chance."
        ]
    found = outcome_differences(outcomes)
    if not found:
        return [f"{counted.capitalize()}, and nothing that is known of recipe or course differs between them."]
    told = [_sentence(one) for one in found if one.told]
    if told:
        return [*told, "What goes with haze need not be its cause: change one thing at a time and look again."]
    best = 2.0 / math.comb(len(found[0].clear) + len(found[0].others), len(found[0].clear))
    why = (
        "with so few batches not even a clean difference could be told from chance"
        if best * len(found) > LEVEL
        else "that may be chance"
    )
    return [
        f"Nothing is told yet by {counted}.",
        f"Farthest apart: {_sentence(found[0])} Of {len(found)} figures, {why}.",
    ]


def _sentence(one: OutcomeDifference) -> str:
    words = OUTCOME_FIGURES[one.column][0]
    clear, others = (figure_text(one.column, value) for value in one.medians)
    return f"{words[:1].upper()}{words[1:]}: {clear} in the clear ones, {others} in the others (middle values)."


def figure_text(column: str, value: float) -> str:
    """A figure in its unit, as fine as it is known.

    >>> figure_text("excess_share", 0.0312), figure_text("stirs", 6.0), figure_text("hottest_c", float("nan"))
    ('3.1 %', '6', '–')
    """
    if math.isnan(value):
        return "–"
    _, unit, factor = OUTCOME_FIGURES[column]
    places = 1 if column == "excess_share" else 0
    return f"{value * factor:.{places}f} {unit}".strip().replace("-", "\N{MINUS SIGN}")
