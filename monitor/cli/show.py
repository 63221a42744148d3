"""``kettleside show``."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.analysis import TimeLossReport
    from monitor.session import Cook

HELP = "One cook in words: what went in, what was done, how it ended, and what the monitor thinks of it."

# Also what other commands say of theirs.
RECORDING_HELP = "its file, or its name in the recordings folder, of which a part will do; 'latest' is the latest"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("recording", help=RECORDING_HELP)
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="default: recordings"
    )
    parser.add_argument("--json", action="store_true", help="the outlook alone, as JSON")
    parser.add_argument("--plot", type=Path, metavar="FILE.svg", help="also draw it")
    parser.add_argument(
        "--against",
        metavar="NAME",
        help="what to compare the time with: ideal, usual (the kitchen's median cook) or another cook",
    )


def run(args: argparse.Namespace) -> int:
    """Prints the cook."""
    import json

    from monitor.cli.resolve import find
    from monitor.session import Cook

    cook = Cook(find(args.recording, args.recordings))
    outlook = cook.outlook()
    if args.json:
        print(json.dumps(outlook.as_json(), ensure_ascii=False))
        return 0
    for line in _lines(cook):
        print(line)
    if cook.finished() is not None:
        for line in _where_the_time_went(cook.path, args.against, args.recordings):
            print(line)
    if args.plot is not None:
        _plot(cook, args.plot)
    return 0


def _plot(cook: "Cook", place: Path) -> None:
    from monitor.plots import cook_svg
    from monitor.storage import RecordingError

    try:
        place.write_text(cook_svg(cook.history(), cook.title(), cook.outlook().clear_at), encoding="utf-8")
    except OSError as error:
        raise RecordingError(place, (error.strerror or str(error)).lower()) from None
    print(f"Drawn in {place}.")


def _where_the_time_went(path: Path, against: str | None, folder: Path) -> list[str]:
    from monitor.cli.resolve import find
    from monitor.session import IDEAL, USUAL, cook_time_loss

    reference = against if against in (None, IDEAL, USUAL) else find(str(against), folder)
    told = cook_time_loss(path, reference)
    return [] if told is None else _ledger_lines(told)


# SenML's names of units -> how a person writes them.
UNITS = {"Cel": "°C"}
# Shorter ones are told of together.
LEAST_TOLD_S = 60.0


def _ledger_lines(told: "TimeLossReport") -> list[str]:
    from monitor.model import clock_time, signed_span

    lines = [f"Where the time went, against {told.reference}: {signed_span(told.seconds)} in all."]
    widest = max(len(entry.cause) for entry in told.losses)
    small = [entry for entry in told.losses if abs(entry.seconds) < LEAST_TOLD_S]
    for entry in told.losses:
        if entry not in small:
            when = f"{clock_time(entry.begins)} to {clock_time(entry.ends)}"
            lines.append(f"  {signed_span(entry.seconds):>12}  {entry.cause:<{widest}}  {when}  {entry.advice}")
    if small:
        total_s = sum(entry.seconds for entry in small)
        lines.append(f"  {signed_span(total_s):>12}  {_small(len(small))}")
    if told.in_doubt:
        lines.append(f"  {told.in_doubt}")
    return lines


def _small(number: int) -> str:
    """What is too short to be told of by itself.

    >>> _small(1), _small(11)
    ('1 more of under a minute', '11 more of under a minute each')
    """
    return f"{number} more of under a minute{' each' if number > 1 else ''}"


def _lines(cook: "Cook") -> list[str]:
    import numpy as np

    from monitor.model import History, Priority, clock_time, event_text, local, span
    from monitor.plots import cook_sparkline, curve

    history: History = cook.history()
    outlook = cook.outlook()
    lines = [cook.title(), f"{local(history.started):%A %d %B %Y, %H:%M}, cooker “{cook.rig}”, {cook.path.name}"]
    if history.batch:
        lines += [f"  {oil.grams:g} g {oil.name}" for oil in history.batch.oils]
        lines.append(
            f"  {history.batch.alkali.excess:+z.0%} {history.batch.alkali.kind} over need, assay "
            f"{history.batch.alkali.assay:.0%}; {history.batch.water_grams:g} g water"
        )
    lines.append("Readings:")
    for name, series in history.series.items():
        good = series.value[~np.isnan(series.value)]
        unit = UNITS.get(series.unit, series.unit)
        values = f"{good.min():.2f} to {good.max():.2f} {unit}" if len(good) else "none good"
        faults = f", {len(series.faults)} fault{'s' if len(series.faults) > 1 else ''}" if series.faults else ""
        lines.append(f"  {name}: {len(series)}, {values}{faults}")
    times, level = curve(history)
    if len(times):
        lines.append(f"Paste: {cook_sparkline(times, level)} {level.min():.0f} to {level.max():.0f} °C")
    lines.append("Events:")
    for event in history.events:
        kind, details = event.kind.replace("ph ", "pH "), event_text(event)
        lines.append(f"  {clock_time(event.measured)}  {kind}{': ' + details if details else ''}")
    low, middle, high = outlook.converted
    state = "ended" if cook.finished() is not None else "under way"
    if outlook.elapsed_s is None:
        lines.append(f"The cook has not started; it is {state}.")
        return lines
    lines.append(
        f"{state.capitalize()} after {span(outlook.elapsed_s)}: {middle:.0%} converted, "
        f"8 in 10 sure of {low:.0%} to {high:.1%}."
    )
    in_sight = [one for one in outlook.conditions if one.in_sight]
    dangers = [one for one in in_sight if one.until is None and one.priority is Priority.DANGER]
    lines += [one.words for one in dangers]
    lines.append(f"Check: {outlook.reasons['check']}")
    lines += [one.words for one in in_sight if one not in dangers]
    return lines
