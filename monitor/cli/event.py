"""``kettleside event``: logs what was done or seen into the running cook."""

import argparse
import re

from monitor.cli.now import add_cook_arguments
from monitor.runtime import MonitorError

HELP = (
    "Logs into the running cook, or into the named one, what was done or seen: oils melted, lye cooled, lye in, thick "
    "trace, lid on, lid off, stirred, checked, looked, heat, heat off, finished, paste weighed, water added, ph read, "
    "settled, bottled, labelled, timer set, note, ... Prints the entry's id, time and kind."
)


class EventError(MonitorError):
    """An event cannot be logged as given. why: one clause."""

    exit_status = 2

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(f"Nothing was logged: {why}.")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument("kind", nargs="+", metavar="KIND", help="such as stirred or lid on")
    parser.add_argument(
        "--at",
        metavar="TIME",
        help="when it was, if not now: 10:20, -5m, 2026-03-14T10:20:00Z or Unix seconds",
    )
    parser.add_argument(
        "--field",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="once for each detail: result=hazy, grams=20, text=...",
    )
    parser.add_argument(
        "--id", metavar="ID", help="the entry's own id, made before the first try: sent again it is logged once"
    )
    parser.add_argument("--cook", metavar="NAME", help="another cook than the one that runs, such as one that rests")
    add_cook_arguments(parser)
    # argparse must not take a time such as -5m for an option.
    parser._negative_number_matcher = re.compile(r"-\d")


def run(args: argparse.Namespace) -> int:
    """Logs the event and prints its id, time and kind. Raises EventError, NoCookRunsError."""
    from monitor.cli.moment import moment
    from monitor.cli.resolve import find, running_cook
    from monitor.model import local
    from monitor.session import Cook

    cook = Cook(find(args.cook, args.recordings)) if args.cook else running_cook(args.recordings, args.rig)
    kind = " ".join(args.kind)
    try:
        at = None if args.at is None else moment(args.at, cook.batch_now(), cook.history().started)
        event = cook.log_event(kind, at, _fields(kind, args.field), args.id)
    except ValueError as error:
        raise EventError(str(error)) from None
    print(f"{event.uid}  {local(event.measured).isoformat(timespec='seconds')}  {event.kind}")
    return 0


def _fields(kind: str, given: list[str]) -> dict[str, object]:
    """The details by name, as numbers where the kind of event wants numbers. Raises ValueError."""
    from monitor.model import ANSWERS, PERSON_EVENTS, Number

    required, optional = {**PERSON_EVENTS, **ANSWERS}.get(kind, ({}, {}))
    fields: dict[str, object] = {}
    for text in given:
        name, separator, value = text.partition("=")
        name = name.strip()
        if not separator or not name:
            raise ValueError(f"the field is {text[:80]!r}; write NAME=VALUE")
        if name in fields:
            raise ValueError(f"the field {name!r} is given twice")
        fields[name] = value
        if isinstance(required.get(name) or optional.get(name), Number):
            try:
                fields[name] = float(value)
            except ValueError:
                raise ValueError(f"{name} of event {kind!r} is {value!r}; it must be a number") from None
    return fields
