"""``kettleside notices``: tells what is due; a part of ``kettleside start``."""

import argparse
from pathlib import Path

from monitor.commands.log import rig_name

HELP = "Tells on standard output, and over MQTT where the source is a broker, what is due and what is wrong."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="where the cooks are (recordings)"
    )
    parser.add_argument("--rig", type=rig_name, default="cooker", metavar="NAME", help="the cooker's name (cooker)")
    parser.add_argument("--source", metavar="URL", help="the logger's source; notices go to its broker too")


def run(args: argparse.Namespace) -> int:
    """Tells until it is told to stop."""
    from monitor.clock import SystemClock
    from monitor.notices import Publisher, Teller, run_notices
    from monitor.say import Voice
    from monitor.signals import stop_on_signal
    from monitor.sources import parse_source_url
    from monitor.view import Shelf

    clock = SystemClock()
    say = Voice("notices")
    url = parse_source_url(args.source) if args.source else None
    publisher: Publisher | None = None
    if url is not None and url.scheme in ("mqtt", "mqtts"):
        from monitor.sources.outbox import Outbox

        publisher = Outbox(url, clock, say)
    with stop_on_signal() as stop:
        teller = Teller(Shelf(args.recordings), args.rig, clock, lambda line: print(line, flush=True), publisher)
        run_notices(teller, say, stop)
        if publisher is not None:
            publisher.close()
        return stop.exit_status
