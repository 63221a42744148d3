"""A finished cook looked back on: where the time went, cooks aligned, whether stated intervals came true."""

from monitor.analysis.advice import LITTLE_S
from monitor.analysis.alignment import ALIGNMENTS, AlignedCourse, align
from monitor.analysis.compare import compared_with
from monitor.analysis.coverage import (
    NOMINAL_COVERAGE,
    CoverageCount,
    StatedInterval,
    Verdict,
    coverage_counts,
    coverage_text,
    coverage_verdict,
    stated_intervals,
)
from monitor.analysis.outcomes import (
    OUTCOME_FIGURES,
    OUTCOME_WORDS,
    OutcomeDifference,
    figure_text,
    outcome_differences,
    outcome_row,
    outcome_text,
    rank_sum_chance,
)
from monitor.analysis.reference import reference_pace
from monitor.analysis.time_loss import Loss, TimeLossReport, attribute_time_loss

__all__ = [
    "ALIGNMENTS",
    "LITTLE_S",
    "NOMINAL_COVERAGE",
    "OUTCOME_FIGURES",
    "OUTCOME_WORDS",
    "AlignedCourse",
    "CoverageCount",
    "Loss",
    "OutcomeDifference",
    "StatedInterval",
    "TimeLossReport",
    "Verdict",
    "align",
    "attribute_time_loss",
    "compared_with",
    "coverage_counts",
    "coverage_text",
    "coverage_verdict",
    "figure_text",
    "outcome_differences",
    "outcome_row",
    "outcome_text",
    "rank_sum_chance",
    "reference_pace",
    "stated_intervals",
]
