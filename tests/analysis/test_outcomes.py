"""How batches turned out: chances against published tables and another program, groups too small, and what is told."""

import math
import random

import numpy as np
import pytest
from scipy import stats

from monitor.analysis import OUTCOME_FIGURES, outcome_differences, outcome_row, outcome_text, rank_sum_chance
from monitor.formulation import read_sheet
from monitor.model import Reading, history_from_readings, make_event


@pytest.mark.parametrize(
    ("each", "below", "one_sided"),
    # Mann and Whitney (1947), table I: the chance of a count of at most so many, in groups of this size.
    [(3, 0, 0.050), (4, 0, 0.014), (4, 1, 0.029), (5, 0, 0.004), (5, 2, 0.016)],
)
def test_the_chance_is_that_of_the_published_table(each: int, below: int, one_sided: float) -> None:
    low, high = [float(n) for n in range(each)], [10.0 + n for n in range(each)]
    # So many of the pairs the wrong way round.
    low[-1] = 9.5 + below if below else low[-1]
    assert rank_sum_chance(low, high) / 2.0 == pytest.approx(one_sided, abs=0.0005)


def test_the_chance_is_that_of_another_program() -> None:
    dice = random.Random(4)
    for size in range(2, 9):
        values = dice.sample(range(100), size + 5)
        first, second = [float(one) for one in values[:size]], [float(one) for one in values[size:]]
        outside = stats.mannwhitneyu(first, second, method="exact").pvalue
        assert rank_sum_chance(first, second) == pytest.approx(outside)


def test_ties_count_by_their_mean_rank() -> None:
    # By hand: of the six ways to draw two of 1, 1, 2, 3 the ranks 1.5 + 1.5 and 3 + 4 lie farthest from the middle.
    assert rank_sum_chance([1.0, 1.0], [2.0, 3.0]) == pytest.approx(2.0 / 6.0)
    assert rank_sum_chance([5.0, 5.0], [5.0, 5.0]) == 1.0


def batches(clear: list[float], others: list[float], **same: float) -> list[dict[str, object]]:
    nothing = dict.fromkeys(OUTCOME_FIGURES, math.nan)
    return [
        {**nothing, **same, "look": look, "long_saturated_share": value}
        for look, values in (("clear", clear), ("hazy", others))
        for value in values
    ]


def test_too_few_batches_say_so() -> None:
    said = outcome_text(batches([0.1, 0.1, 0.1], [0.3, 0.3]))
    assert said[0].startswith("Too few to say: 3 clear and 2 hazy or cloudy. From 3 of each on")
    assert outcome_differences(batches([0.1, 0.1, 0.1], [0.3, 0.3])) == ()
    assert outcome_text(batches([], []))[0].startswith("Too few to say: 0 clear and 0 hazy")


def test_a_clean_difference_of_three_each_is_not_told_and_of_six_each_is() -> None:
    three = batches([0.10, 0.11, 0.12], [0.2, 0.3, 0.4], excess_share=0.03)
    assert [one.told for one in outcome_differences(three)] == [False]
    said = outcome_text(three)
    assert said[0] == "Nothing is told yet by 3 clear and 3 hazy or cloudy."
    assert "11 % in the clear ones, 30 % in the others" in said[1] and "not even a clean difference" in said[1]
    six = batches([0.10, 0.11, 0.12] * 2, [0.2, 0.3, 0.4] * 2, excess_share=0.03)
    # What is the same in all tells nothing and counts for nothing.
    (one,) = outcome_differences(six)
    assert one.told and one.chance == pytest.approx(2.0 / math.comb(12, 6))
    assert outcome_text(six)[0].startswith("Palmitic, stearic and longer acids: 11 % in the clear ones, 30 % in")


def test_many_figures_that_are_looked_at_are_considered() -> None:
    """Of batches that differ by chance alone something is told in one table of twenty at the most (Holm 1979)."""
    dice = np.random.default_rng(11)
    told = 0
    for _ in range(200):
        drawn = dice.random((12, len(OUTCOME_FIGURES)))
        table = [
            {"look": ["clear", "hazy"][n % 2], **dict(zip(OUTCOME_FIGURES, row.tolist(), strict=True))}
            for n, row in enumerate(drawn)
        ]
        told += any(one.told for one in outcome_differences(table))
    assert told / 200 <= 0.05 + 2.0 * math.sqrt(0.05 * 0.95 / 200)


def test_the_row_of_a_batch_has_its_recipe_and_its_course() -> None:
    sheet = read_sheet('title = "S"\n[[oil]]\nname = "rapeseed"\ngrams = 600\n[water]\ngrams = 400')
    readings = [Reading("paste", "Cel", 60.0 * n, 60.0 * n, 20.0 + n) for n in range(70)]
    events = [
        make_event("event-0", "lid on", 600.0, 600.0),
        make_event("event-1", "stirred", 1800.0, 1800.0),
        make_event("event-2", "checked", 3600.0, 3600.0, {"result": "clear"}),
        make_event("event-3", "stirred", 3700.0, 3700.0),
        make_event("event-4", "outcome", 9e5, 9e5, {"look": "hazy", "cloudy_below_c": 12.0}),
        make_event("event-5", "outcome", 9.1e5, 9.1e5, {"look": "clear", "complaints": "stings"}),
    ]
    history = history_from_readings(readings, events, sheet)
    row = outcome_row(history)
    assert row is not None
    assert (row["look"], row["complaints"], row["cloudy_below_c"]) == ("clear", "stings", None)
    assert (row["stirs"], row["clear_after_min"], row["hottest_c"]) == (1.0, 50.0, 80.0)
    # By hand: rapeseed has about one part in twenty of palmitic and stearic acid.
    assert row["long_saturated_share"] == pytest.approx(0.07, abs=0.03)
    assert row["excess_share"] == pytest.approx(0.03, abs=0.001)
