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
from monitor.analysis.reference import reference_pace
from monitor.analysis.time_loss import Loss, TimeLossReport, attribute_time_loss

__all__ = [
    "ALIGNMENTS",
    "LITTLE_S",
    "NOMINAL_COVERAGE",
    "AlignedCourse",
    "CoverageCount",
    "Loss",
    "StatedInterval",
    "TimeLossReport",
    "Verdict",
    "align",
    "attribute_time_loss",
    "compared_with",
    "coverage_counts",
    "coverage_text",
    "coverage_verdict",
    "reference_pace",
    "stated_intervals",
]
