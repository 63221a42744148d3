"""How far a kitchen's pH readings lie off the model, learned from its titrated soaps."""

from functools import lru_cache
from pathlib import Path

from monitor.chemistry import PhOffset, learned_offset
from monitor.formulation import ph_deviations
from monitor.session.finished import FileVersion, file_version, finished_cooks, is_sample
from monitor.session.learning import MOST_COOKS
from monitor.storage import RecordingError, read_batch, summary


@lru_cache(maxsize=256)
def _deviations(version: FileVersion) -> tuple[tuple[float, float], ...]:
    cook = summary(version.path)
    batch = read_batch(cook.about.sheet)
    if batch is None:
        return ()
    try:
        return ph_deviations(batch, cook.events)
    except ValueError:
        # A sheet from which no charge follows teaches nothing.
        return ()


def kitchen_ph_offset(folder: Path, began: float | None = None) -> PhOffset:
    """The offset of a kitchen's pH readings, from the latest finished cooks of a folder.

    began: only cooks that had ended by then count (Unix seconds), or all. A file that cannot be read teaches nothing,
    and neither does a cook that was invented to be looked at.
    """
    found: list[tuple[float, float]] = []
    used = 0
    for cook in finished_cooks(folder):
        if used >= MOST_COOKS:
            break
        if is_sample(cook) or (began is not None and max(cook.finished or 0.0, cook.last_known) > began):
            continue
        try:
            found += _deviations(file_version(cook.path))
        except (RecordingError, OSError):
            continue
        used += 1
    return learned_offset(found)
