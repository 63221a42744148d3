"""``kettleside doctor``: whether this machine is fit for a cook, and what to do where it is not."""

import argparse
from pathlib import Path

HELP = (
    "Looks at ports, broker, clock, disk, pairing, libraries, recordings, running loggers and the channels of running "
    "cooks, and says of each what to do. Exit status 1 when something is wrong."
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument(
        "--source",
        action="append",
        default=[],
        metavar="[NAME=]URL",
        help="as for start, once for each cooker; without one, every serial port is looked at",
    )
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="where the cooks are (recordings)"
    )


def run(args: argparse.Namespace) -> int:
    """Prints a line for each finding; 1 when something is wrong."""
    from monitor.logger import rig_configs
    from monitor.ops import FindingState, diagnose
    from monitor.runtime import ProgressBar, SystemClock

    sources = [source for rig in rig_configs(args.source) for source in rig.sources] if args.source else []
    with ProgressBar("recordings") as progress:
        findings = diagnose(args.recordings, sources, SystemClock(), progress)
    for finding in findings:
        print(finding.line())
    wrong = sum(finding.state is FindingState.WRONG for finding in findings)
    if wrong:
        print(f"{wrong} of these {'needs' if wrong == 1 else 'need'} doing before a cook.")
    return 1 if wrong else 0
