"""How far a kitchen's pH readings lie off the model, learned from its titrated soaps."""

from functools import lru_cache
from itertools import islice
from pathlib import Path

from monitor.chemistry import PhOffset, learned_offset
from monitor.formulation import ph_deviations
from monitor.session.finished import MOST_COOKS, FileVersion, file_version, teaching_cooks
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
    for cook in islice(teaching_cooks(folder, began), MOST_COOKS):
        try:
            found += _deviations(file_version(cook.path))
        except (RecordingError, OSError):
            continue
    return learned_offset(found)
