"""``kettleside start``: logger, dashboard and notices, each in its own process."""

import argparse

from monitor.commands.log import add_source_arguments, read_batch_file
from monitor.commands.serve import add_page_arguments, page_argv

HELP = "Watches a cook: logger, dashboard and notices, each in a process of its own, one started again when it dies."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    add_source_arguments(parser)
    add_page_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Runs the three until it is told to stop."""
    from monitor.clock import SystemClock
    from monitor.say import Voice
    from monitor.sources import open_source, parse_source_url
    from monitor.supervisor import Child, Supervisor
    from monitor.told import load_notice_settings

    clock = SystemClock()
    # What is wrong here is said once, before anything is started; a source connects only when it is polled.
    open_source(parse_source_url(args.source), clock, args.columns).close()
    read_batch_file(args.batch)
    load_notice_settings(args.recordings)
    folder = str(args.recordings)
    cooker = ["--rig", args.rig, "--recordings", folder]
    log = ["log", "--source", args.source, *cooker]
    if args.batch is not None:
        log += ["--batch", str(args.batch)]
    if args.columns is not None:
        log += ["--columns", ",".join(f"{column.channel}:{column.unit}" for column in args.columns)]
    children = [
        Child("logger", tuple(log)),
        Child("dashboard", ("serve", "--recordings", folder, *page_argv(args))),
        Child("notices", ("notices", "--source", args.source, *cooker)),
    ]
    return Supervisor(children, clock, Voice("kettleside")).run()
