"""``kettleside notices``: tells what is due; a part of ``kettleside start``."""

import argparse
from pathlib import Path

from monitor.commands.log import rig_name

HELP = (
    "Tells on standard output, by the services and commands of the settings, and over MQTT where the source is "
    "a broker, what is due and what is wrong."
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="where the cooks are (recordings)"
    )
    parser.add_argument("--rig", type=rig_name, default="cooker", metavar="NAME", help="the cooker's name (cooker)")
    parser.add_argument("--source", metavar="URL", help="the logger's source; notices go to its broker too")
    parser.add_argument(
        "--test", action="store_true", help="try every way of telling, say of each whether it worked, end"
    )


def run(args: argparse.Namespace) -> int:
    """Tells until it is told to stop; or tries every way once, 1 where one failed."""
    from monitor.clock import SystemClock
    from monitor.notices import Publisher, Teller, run_notices, wait_for_turn
    from monitor.outgoing import Outgoing
    from monitor.say import Voice
    from monitor.signals import stop_on_signal
    from monitor.sources import parse_source_url
    from monitor.told import OnlyTeller
    from monitor.view import Shelf

    clock = SystemClock()
    url = parse_source_url(args.source) if args.source else None
    if args.test:
        from monitor.trial import try_all

        return 0 if try_all(args.recordings, args.rig, url, clock, lambda line: print(line, flush=True)) else 1
    say = Voice("notices")
    publisher: Publisher | None = None
    with stop_on_signal() as stop, OnlyTeller(args.recordings, args.rig) as right:
        if not wait_for_turn(right, args.rig, say, stop):
            return stop.exit_status
        if url is not None and url.scheme in ("mqtt", "mqtts"):
            from monitor.sources.outbox import Outbox

            publisher = Outbox(url, clock, say, f"kettleside/{args.rig}/monitor")
        outgoing = Outgoing(args.recordings, args.rig, clock, say)
        shelf = Shelf(args.recordings)
        teller = Teller(shelf, args.rig, clock, lambda line: print(line, flush=True), outgoing, publisher, say)
        run_notices(teller, stop)
        outgoing.close()
        if publisher is not None:
            publisher.close()
        return stop.exit_status
