"""What the running cooks lack for their paste to be watched: names, and units that are understood."""

from pathlib import Path

from monitor.alarms import NO_PASTE
from monitor.ops.diagnostics.finding import Finding, FindingState
from monitor.session import Cook
from monitor.storage import RecordingError, is_running, recordings


def channels(folder: Path) -> list[Finding]:
    """What stands at each cook that runs in this folder; nothing is said of one that cannot be read."""
    found = []
    for path in recordings(folder):
        try:
            if not is_running(path):
                continue
            cook = Cook(path)
            standing = [one for one in cook.outlook().alarms if one.until is None]
        except RecordingError:
            continue
        lacks = [one for one in standing if one.name == NO_PASTE or one.name.endswith(" unit unknown")]
        found += [Finding("channels", FindingState.WRONG, one.words) for one in lacks]
        if not lacks and cook.history().series:
            names = ", ".join(cook.history().series)
            found.append(Finding("channels", FindingState.WELL, f"{names[:200]} arrive at the cooker {cook.rig}."))
    return found
