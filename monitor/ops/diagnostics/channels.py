"""Whether the running cooks have what watching the paste needs: a paste channel, in a unit that is understood."""

from pathlib import Path

from monitor.alarms import NO_PASTE
from monitor.ops.diagnostics.finding import Finding, FindingState
from monitor.session import Cook
from monitor.storage import RecordingError, is_running, recordings


def check_channels(folder: Path) -> list[Finding]:
    """The channels of each running cook; one that cannot be read is left to ``check_recordings``."""
    findings = []
    for path in recordings(folder):
        try:
            if not is_running(path):
                continue
            cook = Cook(path)
            active = [alarm for alarm in cook.outlook().alarms if alarm.until is None]
        except RecordingError:
            continue
        missing = [alarm for alarm in active if alarm.name == NO_PASTE or alarm.name.endswith(" unit unknown")]
        findings += [Finding("channels", FindingState.WRONG, alarm.words) for alarm in missing]
        if not missing and cook.history().series:
            names = ", ".join(cook.history().series)
            findings.append(Finding("channels", FindingState.WELL, f"{names[:200]} arrive at the cooker {cook.rig}."))
    return findings
