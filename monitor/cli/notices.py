"""``kettleside notices``: notifies of what is due at every cooker; ``kettleside start`` runs it as a child."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.log import rig_name

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from monitor.sources import SourceUrl

HELP = (
    "Tells on standard output, by the services and commands of the settings, down a rig's cable and over MQTT where "
    "the source is a broker, what is due and what is wrong. Several cookers: --source left=URL --source right=URL."
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="where the cooks are (recordings)"
    )
    parser.add_argument("--rig", type=rig_name, metavar="NAME", help="the name of a single cooker (cooker)")
    parser.add_argument(
        "--source",
        action="append",
        default=[],
        metavar="[NAME=]URL",
        help="the logger's source, once for each cooker; notices go to its broker too",
    )
    parser.add_argument(
        "--test",
        action="store_true",
        help="send a test by every channel, say of each whether it worked, and end; without --source for the running "
        "cooks",
    )


def run(args: argparse.Namespace) -> int:
    """Notifies until a signal stops it; with --test tries every channel once, and returns 1 where any failed."""
    from monitor.notifications import (
        Dispatcher,
        HomeAutomation,
        Notifier,
        Publisher,
        RigNotifier,
        run_notifiers,
    )
    from monitor.runtime import Reporter, SystemClock, print_line, stop_on_signal
    from monitor.session import CookLibrary

    clock = SystemClock()
    rigs = rigs_told_of(args)
    if args.test:
        from monitor.notifications import run_self_test

        return 0 if run_self_test(args.recordings, rigs, clock, print_line) else 1
    report = Reporter("notices")
    library = CookLibrary(args.recordings)
    dispatcher = Dispatcher(args.recordings, clock, report)

    def make(rig: str) -> Notifier:
        url = rigs[rig]
        publisher: Publisher | None = None
        if url is not None and url.scheme in ("mqtt", "mqtts"):
            from monitor.sources import MqttPublisher

            # A connection for each cooker, because a broker publishes one last will for each connection.
            publisher = MqttPublisher(url, clock, report, f"kettleside/{rig}/monitor")
        home = HomeAutomation(args.recordings, rig, url, clock, report, lambda: dispatcher.settings.home_automation)
        return Notifier(library, rig, clock, print_line, dispatcher, publisher, report, home)

    with stop_on_signal() as stop:
        try:
            run_notifiers([RigNotifier(args.recordings, rig, make, report) for rig in rigs], clock, stop)
        finally:
            dispatcher.close()
        return stop.exit_status


def rigs_told_of(args: argparse.Namespace) -> "Mapping[str, SourceUrl | None]":
    """Each rig's name and the address of its source, None where that is not known. Raises MonitorError."""
    from monitor.logger import DEFAULT_RIG, rig_configs
    from monitor.sources import parse_source_url

    if args.source:
        configs = rig_configs(args.source, usual=args.rig or DEFAULT_RIG)
        # Among several sources a broker is the one that can be published to.
        return {config.name: _broker_or_first(map(parse_source_url, config.sources)) for config in configs}
    running = _running(args.recordings, args.rig) if args.test else {}
    return running or {args.rig or DEFAULT_RIG: None}


def _broker_or_first(urls: "Iterable[SourceUrl]") -> "SourceUrl":
    return min(urls, key=lambda url: url.scheme not in ("mqtt", "mqtts"))


def _running(folder: Path, rig: str | None) -> "Mapping[str, SourceUrl | None]":
    """The rigs whose cooks run, with the sources that their recordings name. rig: only this rig."""
    from contextlib import suppress

    from monitor.sources import SourceError, parse_source_url
    from monitor.storage import is_running, read_header, recordings

    found: dict[str, SourceUrl | None] = {}
    for head in (read_header(path) for path in recordings(folder) if is_running(path, rig)):
        if head.rig not in found:
            found[head.rig] = None
            with suppress(SourceError):
                found[head.rig] = parse_source_url(head.source)
    return dict(sorted(found.items()))
