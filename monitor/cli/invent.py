"""``kettleside invent``."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.simulator import SampleCook

HELP = "Writes three invented cooks to look at: one smooth, one with a power cut, one whose probe came loose."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("--to", type=Path, default=Path("recordings"), metavar="DIR", help="default: recordings")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="the same seed gives the same cooks (1)")


def run(args: argparse.Namespace) -> int:
    """Writes the cooks that are not there yet."""
    from monitor.runtime import ProgressBar
    from monitor.simulator import SAMPLE_COOKS
    from monitor.storage import RecordingError

    for one in SAMPLE_COOKS:
        path = recording_of(one, args.to)
        if path.exists():
            raise RecordingError(path, "it is there already")
    with ProgressBar("inventing") as bar:
        for done, one in enumerate(SAMPLE_COOKS, 1):
            print(f"{write(one, args.to, args.seed)}: {one.description}")
            bar(done, len(SAMPLE_COOKS))
    print("No soap was made: every number in them is made up.")
    return 0


def recording_of(one: "SampleCook", folder: Path) -> Path:
    """The file of an invented cook."""
    from datetime import UTC, datetime

    stamp = datetime.fromtimestamp(one.began, UTC).strftime("%Y-%m-%dT%H%M%SZ")
    return folder / f"{stamp}-invented-{one.name}.cook"


def write(one: "SampleCook", folder: Path, seed: int) -> Path:
    """Invents a cook and writes it as a recording; its file. The same seed gives the same contents."""
    from monitor.model import make_event
    from monitor.protocol import Pack, SenmlRecord
    from monitor.runtime import Anchor
    from monitor.simulator import INVENTED, WARNING
    from monitor.storage import Recorder, errors_named

    anchor = Anchor(one.began, one.began, "", 0.0)
    recorder = Recorder.create(folder, anchor, rig="invented cooker", source=INVENTED, sheet=one.sheet())
    try:
        text = f"{WARNING} {one.description}"
        recorder.add_event(make_event(f"invented-{one.name}-{seed}-note", "note", one.began, one.began, {"text": text}))
        actions = 0
        for moment in one.steps(seed):
            if moment.records:
                records = tuple(
                    SenmlRecord(str(r["n"]), str(r["u"]), _value(r.get("v")), None if "v" in r else str(r["vs"]), None)
                    for r in moment.records
                )
                recorder.add_pack(Pack(records, moment.at, None, None))
            for action in moment.actions:
                actions += 1
                uid = f"invented-{one.name}-{seed}-{actions}"
                recorder.add_event(make_event(uid, action.kind, action.at, moment.at, action.fields))
        recorder.finish()
        path = recording_of(one, folder)
        with errors_named(path):
            recorder.path.rename(path)
    except BaseException:
        recorder.abandon()
        recorder.path.unlink(missing_ok=True)
        raise
    return path


def _value(said: object) -> float | None:
    return float(said) if isinstance(said, int | float) else None
