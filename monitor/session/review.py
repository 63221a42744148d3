"""Finished cooks reviewed: where the time of one went, how cooks align, and whether stated intervals came true."""

import hashlib
from collections.abc import Callable
from functools import lru_cache
from itertools import islice
from pathlib import Path

from monitor.analysis import (
    AlignedCourse,
    StatedInterval,
    TimeLossReport,
    align,
    attribute_time_loss,
    compared_with,
    reference_pace,
    stated_intervals,
)
from monitor.estimation import Prior
from monitor.session.finished import FileVersion, file_version, finished_cooks, is_sample, past_history
from monitor.session.learning import kitchen_model
from monitor.storage import RecordingError

# The kitchen's usual cook is the median of this many of its latest at the most, and not of fewer than the second.
MOST_COMPARED = 8
LEAST_COMPARED = 3
IDEAL, USUAL = "ideal", "usual"


def cook_time_loss(path: Path, reference: str | Path | None = None) -> TimeLossReport | None:
    """Where the time of an ended cook went, or None where it cannot be told.

    reference: IDEAL, USUAL (the median of the folder's other finished cooks), the file of another cook, or None for the
    usual cook where there are enough others, else the ideal. All are counted by the kitchen's model of today.
    Raises RecordingError where a chosen cook cannot be read or compared.
    """
    prior = kitchen_model(path.parent).prior()
    own = _report(file_version(path), _key(prior))
    if own is None or reference == IDEAL:
        return own
    if isinstance(reference, Path):
        other = _report(file_version(reference), _key(prior))
        if other is None:
            raise RecordingError(reference, "it has no end yet, so nothing can be compared with it")
        return compared_with(own, [other], f"the cook {reference.stem}")
    others = _others(path, prior)
    if len(others) < LEAST_COMPARED:
        if reference == USUAL:
            raise RecordingError(path, f"it takes {LEAST_COMPARED} other ended cooks to tell what is usual")
        return own
    return compared_with(own, others, f"the kitchen's usual cook, the median of {len(others)}")


def _others(path: Path, prior: Prior) -> list[TimeLossReport]:
    """The reports of the folder's latest other finished cooks."""
    reports: list[TimeLossReport] = []
    for cook in finished_cooks(path.parent):
        if len(reports) >= MOST_COMPARED:
            break
        if cook.path == path or is_sample(cook):
            continue
        try:
            report = _report(file_version(cook.path), _key(prior))
        except RecordingError:
            continue
        if report is not None:
            reports.append(report)
    return reports


# Each cook of a kitchen is counted for itself and for those beside it.
@lru_cache(maxsize=512)
def _report(version: FileVersion, _prior: bytes) -> TimeLossReport | None:
    return attribute_time_loss(past_history(version.path), kitchen_model(version.path.parent).prior())


def _key(prior: Prior) -> bytes:
    """What tells a kitchen's model of one day from that of another."""
    digest = hashlib.blake2b(b"%f %f" % (prior.plateau_c, prior.plateau_sd_c))
    # Whole, the weights of each remembered cook would take 300 kB.
    digest.update(prior.weight.tobytes())
    return digest.digest()


def aligned(path: Path, alignment: str) -> AlignedCourse | None:
    """A cook along one of ``ALIGNMENTS``, by its kitchen's model of today; None where it cannot be aligned.

    Raises RecordingError, ValueError for another alignment.
    """
    return align(past_history(path), alignment, reference_pace(kitchen_model(path.parent).prior()))


@lru_cache(maxsize=512)
def _intervals(version: FileVersion, _prior: bytes) -> tuple[StatedInterval, ...]:
    history = past_history(version.path)
    return tuple(stated_intervals(history, kitchen_model(version.path.parent, history.started).prior()))


def interval_coverage(
    folder: Path, progress: Callable[[int, int], None] | None = None, most: int | None = None
) -> list[tuple[Path, StatedInterval]]:
    """The intervals stated along the finished cooks of a folder, the latest first, each by its kitchen's model then.

    progress: called with (cooks done, cooks in all). most: number of cooks at the most, all if None.
    """
    intervals: list[tuple[Path, StatedInterval]] = []
    cooks = list(islice(finished_cooks(folder), most))
    for done, cook in enumerate(cooks, 1):
        try:
            prior = kitchen_model(folder, cook.about.started).prior()
            intervals += [(cook.path, interval) for interval in _intervals(file_version(cook.path), _key(prior))]
        except (RecordingError, OSError):
            continue
        if progress is not None:
            progress(done, len(cooks))
    return intervals
