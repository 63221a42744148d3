"""``kettleside show``."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.analysis import TimeLossReport
    from monitor.formulation import UnitChoice
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
    parser.add_argument("--plot", type=Path, metavar="FILE", help="also draw it: FILE.html, .svg or .png")
    parser.add_argument(
        "--against",
        metavar="NAME",
        help="what to compare the time with: ideal, usual (the kitchen's median cook) or another cook",
    )


def run(args: argparse.Namespace) -> int:
    """Prints the cook, and draws it where a file was named."""
    import json

    from monitor.cli.resolve import find
    from monitor.session import Cook, believed_kitchen_units

    cook = Cook(find(args.recording, args.recordings))
    outlook = cook.outlook()
    if args.json:
        print(json.dumps(outlook.as_json(), ensure_ascii=False))
        return 0
    units = believed_kitchen_units(args.recordings)
    for line in _lines(cook, units):
        print(line)
    if cook.finished() is not None:
        for line in _time_loss_text(cook.path, args.against, args.recordings):
            print(line)
    if args.plot is not None:
        _plot(cook, args.plot, units)
    return 0


def _plot(cook: "Cook", path: Path, units: "UnitChoice") -> None:
    from monitor.api import open_cook
    from monitor.formulation import METRIC
    from monitor.model import local
    from monitor.plots import captioned, course, write_figure
    from monitor.plots import cook as cook_figure

    opened = open_cook(cook.path)
    readings = opened.readings()
    # By the same clock as the times in the text.
    readings = readings.tz_convert(local(cook.history().started).tzinfo)
    estimate, title = cook.outlook().estimate, cook.title()
    # A course is drawn on the scale of degrees Celsius alone.
    if units == METRIC:
        figure = course(readings, opened.events(), estimate, title=title)
    else:
        figure = cook_figure(readings, opened.events(), estimate, title=title, units=units)
    write_figure(captioned(figure), path)
    print(f"Drawn in {path}.")


def _time_loss_text(path: Path, against: str | None, folder: Path) -> list[str]:
    from monitor.cli.resolve import find
    from monitor.session import IDEAL, USUAL, cook_time_loss

    reference = against if against in (None, IDEAL, USUAL) else find(str(against), folder)
    report = cook_time_loss(path, reference)
    return [] if report is None else _time_loss_lines(report)


def _time_loss_lines(report: "TimeLossReport") -> list[str]:
    from monitor.analysis import LITTLE_S
    from monitor.model import clock_time, signed_span

    lines = [f"Where the time went, against {report.reference}: {signed_span(report.seconds)} in all."]
    widest = max(len(entry.cause) for entry in report.losses)
    short = [entry for entry in report.losses if abs(entry.seconds) < LITTLE_S]
    for entry in report.losses:
        if entry not in short:
            when = f"{clock_time(entry.begins)} to {clock_time(entry.ends)}"
            lines.append(f"  {signed_span(entry.seconds):>12}  {entry.cause:<{widest}}  {when}  {entry.advice}")
    if short:
        total_s = sum(entry.seconds for entry in short)
        lines.append(f"  {signed_span(total_s):>12}  {_short_losses_text(len(short))}")
    if report.in_doubt:
        lines.append(f"  {report.in_doubt}")
    return lines


def _short_losses_text(number: int) -> str:
    """How many losses are too short to be listed singly.

    >>> _short_losses_text(1), _short_losses_text(11)
    ('1 more of under a minute', '11 more of under a minute each')
    """
    return f"{number} more of under a minute{' each' if number > 1 else ''}"


def _mass_text(grams: float, units: "UnitChoice") -> str:
    # Grams as they stand on the sheet.
    return units.mass_text(grams) if units.in_ounces else f"{grams:g} g"


def _span_text(low: float, high: float, unit: str, units: "UnitChoice") -> str:
    """The least and the greatest reading. unit: as SenML names it (RFC 8428)."""
    if unit == "Cel":
        return f"{units.temperature_of(low):.2f} to {units.temperature_text(high, 2)}"
    return f"{low:.2f} to {high:.2f} {unit}"


def _lines(cook: "Cook", units: "UnitChoice") -> list[str]:
    import numpy as np

    from monitor.model import History, Priority, clock_time, event_text, local, span
    from monitor.plots import cook_sparkline, curve
    from monitor.session import standing

    history: History = cook.history()
    outlook = cook.outlook()
    lines = [cook.title(), f"{local(history.started):%A %d %B %Y, %H:%M}, cooker “{cook.rig}”, {cook.path.name}"]
    if history.batch:
        lines += [f"  {_mass_text(oil.grams, units)} {oil.name}" for oil in history.batch.oils]
        lines.append(
            f"  {history.batch.alkali.excess:+z.0%} {history.batch.alkali.kind} over need, assay "
            f"{history.batch.alkali.assay:.0%}; {_mass_text(history.batch.water_grams, units)} water"
        )
    lines.append("Readings:")
    for name, series in history.series.items():
        good = series.value[~np.isnan(series.value)]
        values = _span_text(float(good.min()), float(good.max()), series.unit, units) if len(good) else "none good"
        faults = f", {len(series.faults)} fault{'s' if len(series.faults) > 1 else ''}" if series.faults else ""
        lines.append(f"  {name}: {len(series)}, {values}{faults}")
    times, level = curve(history)
    if len(times):
        low_t = units.temperature_of(level.min())
        lines.append(f"Paste: {cook_sparkline(times, level)} {low_t:.0f} to {units.temperature_text(level.max())}")
    lines.append("Events:")
    for event in history.events:
        kind, details = event.kind.replace("ph ", "pH "), event_text(event)
        lines.append(f"  {clock_time(event.measured)}  {kind}{': ' + details if details else ''}")
    if stands := standing(history.events, cook.batch_now()):
        lines.append(f"The batch: {stands}.")
    low, middle, high = outlook.estimate.converted
    state = "ended" if cook.finished() is not None else "under way"
    if outlook.elapsed_s is None:
        lines.append(f"The cook has not started; it is {state}.")
        return lines
    done = outlook.estimate.done[1]
    share = f"{done:.0%} of the cooking done, " if done else ""
    lines.append(
        f"{state.capitalize()} after {span(outlook.elapsed_s)}: {share}{middle:.0%} converted, "
        f"8 in 10 sure of {low:.0%} to {high:.1%}."
    )
    in_sight = [alarm for alarm in outlook.alarms if alarm.in_sight]
    dangers = [alarm for alarm in in_sight if alarm.until is None and alarm.priority is Priority.DANGER]
    lines += [alarm.words for alarm in dangers]
    lines.append(f"Check: {outlook.reasons['check']}")
    lines += [alarm.words for alarm in in_sight if alarm not in dangers]
    return lines
