"""The kitchen's earlier cooks, read from its recordings."""

from functools import lru_cache
from pathlib import Path

from monitor.estimation import CookEvidence, KitchenModel, cook_evidence, fit_kitchen
from monitor.probes import COLD, convert_history
from monitor.simulator import INVENTED
from monitor.storage import CalibrationLog, RecordingError, load, recordings, summary

# Older ones have faded by then, and each costs some tens of milliseconds to read.
MOST_COOKS = 16


@lru_cache(maxsize=256)
def _evidence(path: Path, _changed_ns: int, _size: int, rig: str) -> CookEvidence | None:
    # A finished cook is seen by the calibrations known at its end, which later ones do not change.
    return cook_evidence(convert_history(load(path, roles=("paste", COLD)), CalibrationLog(path.parent).facts(), rig))


def kitchen_model(folder: Path, began: float | None = None) -> KitchenModel:
    """What the finished cooks of a folder have taught: those that had ended by ``began`` (Unix seconds), or all.

    A file that cannot be read teaches nothing, and neither does a cook that was invented to be looked at.
    """
    found: list[tuple[float, int, CookEvidence]] = []
    for path in recordings(folder):
        if len(found) >= MOST_COOKS:
            break
        try:
            head = summary(path)
            if head.finished is None or (began is not None and max(head.finished, head.last_known) > began):
                continue
            if head.about.source == INVENTED:
                continue
            status = path.stat()
            one = _evidence(path, status.st_mtime_ns, status.st_size, head.about.rig)
        except (RecordingError, OSError):
            continue
        if one is not None:
            # Cooks told of the same moments, as a simulation may, stand in the order in which they were written.
            found.append((head.about.started, status.st_mtime_ns, one))
    return fit_kitchen([one for _, _, one in sorted(found, key=lambda entry: entry[:2])])
