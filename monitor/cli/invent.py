"""``kettleside invent``: three invented cooks to look at."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.simulator import SampleCook

HELP = "Writes three invented cooks to look at: one smooth, one with a power cut, one whose probe came loose."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument("--to", type=Path, default=Path("recordings"), metavar="DIR", help="default: recordings")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="the same seed gives the same cooks (1)")


def run(args: argparse.Namespace) -> int:
    """Writes the three cooks. Raises RecordingError where one of them is there already."""
    from monitor.runtime import ProgressBar
    from monitor.simulator import SAMPLE_COOKS
    from monitor.storage import RecordingError

    for sample in SAMPLE_COOKS:
        path = recording_of(sample, args.to)
        if path.exists():
            raise RecordingError(path, "it is there already")
    with ProgressBar("inventing") as bar:
        for done, sample in enumerate(SAMPLE_COOKS, 1):
            print(f"{write(sample, args.to, args.seed)}: {sample.description}")
            bar(done, len(SAMPLE_COOKS))
    print("No soap was made: every number in them is made up.")
    return 0


def recording_of(sample: "SampleCook", folder: Path) -> Path:
    """The file of a sample cook."""
    from datetime import UTC, datetime

    stamp = datetime.fromtimestamp(sample.began, UTC).strftime("%Y-%m-%dT%H%M%SZ")
    return folder / f"{stamp}-invented-{sample.name}.cook"


def write(sample: "SampleCook", folder: Path, seed: int) -> Path:
    """Plays a sample cook and writes it as a recording; returns its file. The same seed gives the same contents."""
    from monitor.model import make_event
    from monitor.protocol import Pack, SenmlRecord
    from monitor.runtime import Anchor
    from monitor.simulator import INVENTED, WARNING
    from monitor.storage import Recorder, errors_named

    anchor = Anchor(sample.began, sample.began, "", 0.0)
    recorder = Recorder.create(folder, anchor, rig="invented cooker", source=INVENTED, sheet=sample.sheet())
    try:
        text = f"{WARNING} {sample.description}"
        recorder.add_event(
            make_event(f"invented-{sample.name}-{seed}-note", "note", sample.began, sample.began, {"text": text})
        )
        logged = 0
        for moment in sample.steps(seed):
            if moment.records:
                records = tuple(
                    SenmlRecord(str(r["n"]), str(r["u"]), _value(r.get("v")), None if "v" in r else str(r["vs"]), None)
                    for r in moment.records
                )
                recorder.add_pack(Pack(records, moment.at, None, None))
            for action in moment.actions:
                logged += 1
                uid = f"invented-{sample.name}-{seed}-{logged}"
                recorder.add_event(make_event(uid, action.kind, action.at, moment.at, action.fields))
        recorder.finish()
        path = recording_of(sample, folder)
        with errors_named(path):
            recorder.path.rename(path)
    except BaseException:
        recorder.abandon()
        recorder.path.unlink(missing_ok=True)
        raise
    return path


def _value(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None
