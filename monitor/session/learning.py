"""The kitchen's earlier cooks, read from its recordings and fitted."""

from functools import lru_cache
from pathlib import Path

from monitor.estimation import CookEvidence, KitchenModel, cook_evidence, fit_kitchen
from monitor.session.finished import MOST_COOKS, FileVersion, file_version, read_history, teaching_cooks
from monitor.storage import RecordingError


@lru_cache(maxsize=256)
def _evidence(version: FileVersion) -> CookEvidence | None:
    return cook_evidence(read_history(version.path, "paste"))


def kitchen_model(folder: Path, began: float | None = None) -> KitchenModel:
    """The model of a kitchen, fitted to the finished cooks of a folder.

    began: only cooks that had ended by then count (Unix seconds), or all. A file that cannot be read teaches nothing,
    and neither does a cook that was invented to be looked at.
    """
    return fit_kitchen(_kitchen_evidence(folder, began))


def kitchen_models(folder: Path) -> list[KitchenModel]:
    """The model of a kitchen as it was after none, one, two of its cooks and so on; the last is that of today."""
    evidence = _kitchen_evidence(folder)
    return [fit_kitchen(evidence[:number]) for number in range(len(evidence) + 1)]


def _kitchen_evidence(folder: Path, began: float | None = None) -> list[CookEvidence]:
    """What the latest teaching cooks of a folder show, the earliest first. began: as ``kitchen_model`` has it."""
    fitted: list[tuple[float, int, CookEvidence]] = []
    for cook in teaching_cooks(folder, began):
        if len(fitted) >= MOST_COOKS:
            break
        try:
            version = file_version(cook.path)
            evidence = _evidence(version)
        except (RecordingError, OSError):
            continue
        if evidence is not None:
            # Cooks with the same times, as a simulation may have them, stand in the order in which they were written.
            fitted.append((cook.about.started, version.changed_ns, evidence))
    return [evidence for _, _, evidence in sorted(fitted, key=lambda entry: entry[:2])]
