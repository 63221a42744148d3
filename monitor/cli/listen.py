"""``kettleside listen``: what arrives on a broker or a serial port, live, and the command that reads it."""

import argparse
import sys
from typing import TYPE_CHECKING

from monitor.cli.log import rig_name
from monitor.runtime import MonitorError

if TYPE_CHECKING:
    from threading import Event

    from monitor.listening import Ear, Listener
    from monitor.runtime import Clock, Report

HELP = (
    "Shows what arrives on a broker or on the serial ports, and proposes the command that reads it as a cooker's "
    "readings. It records nothing."
)
# Where nobody watches, s.
USUAL_SECONDS = 10.0
DRAW_EVERY_S = 0.5


class NothingFoundError(MonitorError):
    """Nothing was heard that can be read as a paste's temperature. why: one sentence."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


def seconds(text: str) -> float:
    """A length of time in seconds. Raises argparse.ArgumentTypeError."""
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0.5 <= value <= 86_400.0:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be from 0.5 to 86400")
    return value


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument(
        "url",
        nargs="?",
        default="serial://auto",
        metavar="URL",
        help="mqtt://[USER@]HOST for every topic of a broker, mqtt://HOST/some/# for a part of them, a serial port "
        "such as /dev/ttyUSB0; every serial port where it is left out",
    )
    parser.add_argument(
        "--seconds",
        type=seconds,
        metavar="N",
        help="end after so long; without it on Ctrl-C, and where standard output is no terminal after 10 s",
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object at the end, and nothing else")
    parser.add_argument("--rig", type=rig_name, metavar="NAME", help="the cooker's name (cooker)")


def run(args: argparse.Namespace) -> int:
    """Listens, and tells what was heard. Raises MonitorError, also where there is nothing to propose."""
    import json

    from monitor.cli.listen_text import heard_json, heard_lines
    from monitor.listening import Listener, open_ear
    from monitor.runtime import Reporter, SystemClock, stop_on_signal
    from monitor.sources import parse_source_url

    url, clock = parse_source_url(args.url), SystemClock()
    listener, ear = Listener(url), open_ear(url, clock)
    is_live = sys.stdout.isatty() and not args.json
    limit_s = args.seconds or (None if is_live else USUAL_SECONDS)
    started_s = clock.real_s()
    try:
        with stop_on_signal(longest_stop_s=0) as stop:
            if is_live:
                _listen_live(listener, ear, clock, stop, limit_s, args)
            else:
                _listen(listener, ear, clock, stop, limit_s, Reporter("listen"))
        problems = ear.problems
    finally:
        ear.close()
    lasted_s = clock.real_s() - started_s
    if args.json:
        print(json.dumps(heard_json(listener, url.text, lasted_s, problems, args.rig), allow_nan=False))
    else:
        print("".join(f"{line}\n" for line in heard_lines(listener, args.rig)), end="")
    if listener.proposal() is None:
        raise NothingFoundError(_why_nothing(listener, url.text, lasted_s, problems))
    return 0


def hear_once(listener: "Listener", ear: "Ear", timeout_s: float) -> None:
    """Feeds the listener with what is heard within this many real seconds."""
    for heard in ear.poll(timeout_s):
        listener.hear(heard)
    for place, options in ear.options().items():
        listener.set_options(place, options)


def _listen(
    listener: "Listener", ear: "Ear", clock: "Clock", stop: "Event", limit_s: float | None, report: "Report"
) -> None:
    from monitor.runtime import Level

    end_s = clock.real_s() + (limit_s if limit_s is not None else float("inf"))
    told: set[str] = set()
    while not stop.is_set() and (left_s := end_s - clock.real_s()) > 0.0:
        hear_once(listener, ear, min(left_s, 0.2))
        for problem in ear.problems:
            if problem not in told and len(told) < 20:
                told.add(problem)
                report(problem, Level.WARNING)


def _listen_live(
    listener: "Listener",
    ear: "Ear",
    clock: "Clock",
    stop: "Event",
    limit_s: float | None,
    args: argparse.Namespace,
) -> None:
    """Draws a table again and again in the same place of the terminal."""
    import shutil

    from monitor.cli.listen_text import table_lines

    end_s = clock.real_s() + (limit_s if limit_s is not None else float("inf"))
    drawn, drawn_s = 0, float("-inf")
    while not stop.is_set() and (left_s := end_s - clock.real_s()) > 0.0:
        hear_once(listener, ear, min(left_s, 0.2))
        if clock.real_s() - drawn_s < DRAW_EVERY_S:
            continue
        drawn_s = clock.real_s()
        size = shutil.get_terminal_size()
        lines = table_lines(listener, ear.problems, args.url, args.rig, size.columns, size.lines - 2)
        # Up to where the table began, and everything below it cleared (ECMA-48, CPL and ED).
        sys.stdout.write((f"\x1b[{drawn}F\x1b[J" if drawn else "") + "\n".join(lines) + "\n")
        sys.stdout.flush()
        drawn = len(lines)
    if drawn:
        sys.stdout.write(f"\x1b[{drawn}F\x1b[J")


def _why_nothing(listener: "Listener", url: str, lasted_s: float, problems: tuple[str, ...]) -> str:
    if not listener.messages:
        if problems:
            return problems[0]
        seldom = "a sensor that sends seldom takes more --seconds"
        hidden = ", and a broker may hide topics from an account" if url.startswith("mqtt") else ""
        return f"Nothing came from {url} within {lasted_s:.0f} s; {seldom}{hidden}."
    count = len(listener.findings())
    what = "topic or port sends" if count == 1 else "topics and ports send"
    return f"{count} {what} something, and nothing of it looks like a temperature."
