"""Finished cooks looked back on: where the time of one went, and whether what was said came true."""

from collections.abc import Callable, Iterator
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
from monitor.model import History
from monitor.probes import COLD, convert_history
from monitor.session.learning import kitchen_model
from monitor.simulator import INVENTED
from monitor.storage import CalibrationLog, RecordingError, load, recordings, summary

# The kitchen's usual cook is the median of as many of its latest.
MOST_COMPARED = 8
LEAST_COMPARED = 3
IDEAL, USUAL = "ideal", "usual"


@lru_cache(maxsize=32)
def _history(path: Path, _changed_ns: int, _size: int) -> History:
    rig = summary(path).about.rig
    return convert_history(load(path, roles=("paste", "wall", COLD)), CalibrationLog(path.parent).facts(), rig)


def past_history(path: Path) -> History:
    """A recording's temperatures and events, by its calibrations; kept in memory while the file stays the same.

    Raises RecordingError.
    """
    try:
        status = path.stat()
    except OSError as error:
        raise RecordingError(path, (error.strerror or str(error)).lower()) from None
    return _history(path, status.st_mtime_ns, status.st_size)


def _finished(folder: Path) -> Iterator[Path]:
    """The recordings of ended cooks, the latest first; files that cannot be read are passed over."""
    for path in recordings(folder):
        try:
            if summary(path).finished is not None:
                yield path
        except RecordingError:
            continue


def cook_time_loss(path: Path, reference: str | Path | None = None) -> TimeLossReport | None:
    """Where the time of an ended cook went, or None where it cannot be told.

    reference: IDEAL, USUAL (the median of the folder's other ended cooks), the file of another cook, or None for the
    usual cook where there are enough others, else the ideal. All are counted by what the kitchen believes today.
    Raises RecordingError where a chosen cook cannot be read or compared.
    """
    prior = kitchen_model(path.parent).prior()
    own = attribute_time_loss(past_history(path), prior)
    if own is None or reference == IDEAL:
        return own
    if isinstance(reference, Path):
        other = attribute_time_loss(past_history(reference), prior)
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
    found: list[TimeLossReport] = []
    for other in _finished(path.parent):
        if len(found) >= MOST_COMPARED:
            break
        if other == path or summary(other).about.source == INVENTED:
            continue
        try:
            one = attribute_time_loss(past_history(other), prior)
        except RecordingError:
            continue
        if one is not None:
            found.append(one)
    return found


def aligned(path: Path, way: str) -> AlignedCourse | None:
    """A cook laid along one of ``alignment.WAYS`` by what its kitchen believes today; None where it cannot be.

    Raises RecordingError, ValueError for another way.
    """
    return align(past_history(path), way, reference_pace(kitchen_model(path.parent).prior()))


@lru_cache(maxsize=512)
def _said(path: Path, _changed_ns: int, _size: int, _belief: bytes) -> tuple[StatedInterval, ...]:
    history = past_history(path)
    return tuple(stated_intervals(history, kitchen_model(path.parent, history.started).prior()))


def interval_coverage(
    folder: Path, progress: Callable[[int, int], None] | None = None, most: int | None = None
) -> list[tuple[Path, StatedInterval]]:
    """What was said along the ended cooks of a folder, the latest first, by what its kitchen believed at each begin.

    progress: told (cooks done, cooks in all). most: how many cooks are looked at, all if None.
    """
    found: list[tuple[Path, StatedInterval]] = []
    paths = list(islice(_finished(folder), most))
    for done, path in enumerate(paths, 1):
        try:
            prior = kitchen_model(folder, summary(path).about.started).prior()
            status = path.stat()
            belief = b"%f %f" % (prior.plateau_c, prior.plateau_sd_c) + prior.weight.tobytes()
            found += [(path, said) for said in _said(path, status.st_mtime_ns, status.st_size, belief)]
        except (RecordingError, OSError):
            continue
        if progress is not None:
            progress(done, len(paths))
    return found
