"""The calibrations that travel with an exported cook, and what becomes of them where it arrives."""

from pathlib import Path

from monitor.probes import CalibrationRecord, Retraction, from_json, to_json
from monitor.runtime import read_bounded
from monitor.storage import MOST_BYTES, CalibrationLog, CookSummary, RecordingError, recordings, summary

FILE = "calibrations.jsonl"


def calibrations_for(recording: Path) -> list[str]:
    """The calibrations of a cook's rig that were valid at any time during the cook, and their retractions.

    Each is one line of JSON. Raises RecordingError.
    """
    cook = summary(recording)
    records = CalibrationLog(recording.parent).facts()
    used = [
        record
        for record in records.all
        if record.rig == cook.about.rig
        and record.known <= cook.last_known
        and records.retracted.get(record.uid, cook.last_known) >= cook.about.started
    ]
    retractions = [
        Retraction(f"{record.uid} taken back", record.uid, records.retracted[record.uid])
        for record in used
        if record.uid in records.retracted
    ]
    return [to_json(entry) for entry in (*used, *retractions)]


def calibration_rows(lines: list[str]) -> list[CalibrationRecord | Retraction]:
    """The calibrations in a package's lines. Raises ValueError that names the line."""
    found = []
    for number, line in enumerate(lines, 1):
        try:
            if line.strip():
                found.append(from_json(line))
        except ValueError as error:
            raise ValueError(f"line {number} is wrong: {error}") from None
    return found


def import_calibrations(entries: list[CalibrationRecord | Retraction], imported: Path) -> int:
    """Adds calibrations beside the imported recording; returns how many were left out.

    A new one is left out where it would change how another cook already here is seen, unless some of the package's
    are here already, which makes it this kitchen's own: another kitchen's cooker may have the same name.
    Raises CalibrationError, RecordingError.
    """
    log = CalibrationLog(imported.parent)
    here = log.facts()
    known = {fact.uid for fact in here.all}
    facts = [entry for entry in entries if not isinstance(entry, Retraction)]
    new = [fact for fact in facts if fact.uid not in known]
    own = len(new) < len(facts)
    others = [] if own or not new else _others(imported)
    left_out = {
        fact.uid for fact in new if any(cook.about.rig == fact.rig and cook.last_known >= fact.known for cook in others)
    }
    for fact in new:
        if fact.uid not in left_out:
            log.add(fact)
    for entry in entries:
        if isinstance(entry, Retraction) and entry.of not in left_out and entry.of not in here.retracted:
            log.add(entry)
    return len(left_out)


def _others(imported: Path) -> list[CookSummary]:
    found = []
    for path in recordings(imported.parent):
        if path != imported:
            try:
                found.append(summary(path))
            except RecordingError:
                continue
    return found


def left_out_text(count: int) -> str:
    """The sentence that tells a person about calibrations that were left out."""
    return (
        f"{count} of its calibrations {'were' if count > 1 else 'was'} left out, because another cook here has a "
        "cooker of the same name; import it into a folder of its own to see it calibrated."
    )


def read_lines(path: Path) -> list[str]:
    """The lines of a package's calibrations; none where it has no such file. Raises OSError, ValueError."""
    try:
        return read_bounded(path, MOST_BYTES).decode().split("\n")
    except FileNotFoundError:
        return []
