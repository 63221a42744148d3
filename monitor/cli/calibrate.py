"""``kettleside calibrate``: probes dipped into buffers and baths, and their calibrations kept beside the recordings."""

import argparse
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from monitor.cli import calibrate_arguments

if TYPE_CHECKING:
    from monitor.calibration import ChannelSample, LiveChannel, Prompt
    from monitor.probes import CalibrationRecord, StabilityState
    from monitor.session import Cook
    from monitor.storage import CalibrationLog

HELP = (
    "Calibrates a pH probe in buffers and a thermocouple in ice and boiling water. Calibrations are kept beside the "
    "recordings, dated, and applied when a cook is looked at; readings are never rewritten."
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    calibrate_arguments.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Runs the one action that was asked for. Raises MonitorError."""
    from monitor.calibration import UnsteadyReadingError
    from monitor.storage import CalibrationError, CalibrationLog

    calibrations = CalibrationLog(args.recordings)
    calibrations.facts()
    if calibrations.trouble:
        raise CalibrationError(calibrations.path, "it cannot be read")
    actions: dict[str, Callable[[argparse.Namespace, CalibrationLog], None]] = {
        "ph": _ph,
        "thermocouple": _thermocouple,
        "fitting": _fitting,
        "sample": _sample,
        "list": _list,
        "take-back": _take_back,
    }
    try:
        actions[args.what](args, calibrations)
    except ValueError as error:
        # The probes package refuses with a ValueError whose text is one sentence.
        raise UnsteadyReadingError(str(error)) from None
    return 0


def _running(args: argparse.Namespace) -> "Cook | None":
    from monitor.session import CookLibrary

    return CookLibrary(args.recordings).running(args.rig)


def _now(args: argparse.Namespace) -> float:
    """Cook time of the running cook, whose readings a new calibration is for, else the clock's."""
    from monitor.runtime import SystemClock

    cook = _running(args)
    return SystemClock().now() if cook is None else cook.now()


@contextmanager
def _live(
    args: argparse.Namespace, calibrations: "CalibrationLog", *kinds: "type[CalibrationRecord]"
) -> "Iterator[LiveChannel]":
    """The channel's readings, live from --source or the running cook, converted by these kinds of record alone."""
    from monitor.calibration import LiveChannel, SourceHistory, UnsteadyReadingError, recorded_history
    from monitor.runtime import SystemClock
    from monitor.sources import open_source, parse_source_url

    clock, facts = SystemClock(), calibrations.facts().of_kinds(*kinds)
    if args.source is not None:
        source = open_source(parse_source_url(args.source), clock, args.columns)
        try:
            yield LiveChannel(SourceHistory(source, clock), clock, args.channel, facts, args.rig)
        finally:
            source.close()
        return
    cook = _running(args)
    if cook is None:
        raise UnsteadyReadingError(
            f"No cook of {args.rig} is running in {args.recordings}: start the logger, or name a --source."
        )
    yield LiveChannel(recorded_history(cook), clock, args.channel, facts, args.rig)


def _prompt() -> "Prompt":
    from monitor.calibration import CalibrationUsageError, Prompt

    on_terminal = sys.stderr.isatty()

    def ask(question: str) -> str:
        try:
            return input(question)
        except EOFError:
            raise CalibrationUsageError(
                "Nobody answers on standard input: run it on a terminal, or give what was measured as options."
            ) from None

    def show(sample: "ChannelSample", settling: "StabilityState") -> None:
        if on_terminal:
            change = getattr(settling, "change", None)
            trend = "settling" if change is None else f"changes by {abs(change):.3f} in half a minute"
            shown = sample.fault if sample.value is None else f"{sample.value:.4f} {sample.unit}, {trend}"
            print(f"\r\x1b[K  {shown}", end="", file=sys.stderr, flush=True)

    def say(line: str) -> None:
        if on_terminal:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)
        print(line, flush=True)

    return Prompt(ask, say, show)


def _save(calibrations: "CalibrationLog", fact: "CalibrationRecord") -> None:
    from monitor.calibration import calibration_text

    calibrations.add(fact)
    print(f"{calibration_text(fact)} Kept as {fact.uid[:8]} in {calibrations.path}.")


def _ph(args: argparse.Namespace, calibrations: "CalibrationLog") -> None:
    from monitor.calibration import ph_calibration, read_buffers
    from monitor.probes import SensorConfig, find_buffer

    points = args.point
    if not points:
        buffers = [find_buffer(name).name for name in args.buffers.split(",")]
        print(calibrate_arguments.CAUTION)
        with _live(args, calibrations, SensorConfig) as live:
            points = read_buffers(live, buffers, args.temperature, _prompt(), args.steady)
    _save(calibrations, ph_calibration(args.rig, args.channel, _now(args), points, args.probe))


def _thermocouple(args: argparse.Namespace, calibrations: "CalibrationLog") -> None:
    from monitor.calibration import CalibrationUsageError, field_check, read_baths
    from monitor.probes import BOILING, ICE, BathPoint, SensorConfig, boiling_point_c, station_pressure_hpa

    pressure_hpa = args.pressure
    if pressure_hpa is None and args.sea_level is not None and args.altitude is not None:
        pressure_hpa = station_pressure_hpa(args.sea_level, args.altitude)
    given = args.ice is not None or args.boiling is not None
    boils = args.boiling is not None if given else "boiling" in args.baths
    if boils and pressure_hpa is None:
        raise CalibrationUsageError(
            "Water boils at another temperature each day: give --pressure, or --sea-level and --altitude."
        )
    if boils:
        boiling_point_c(pressure_hpa)
    if given:
        read = [(ICE, args.ice, None), (BOILING, args.boiling, pressure_hpa)]
        points = tuple(BathPoint(bath, value, hpa) for bath, value, hpa in read if value is not None)
    else:
        print("Boiling water scalds: keep hands out of the steam.")
        baths = [{"ice": ICE, "boiling": BOILING}[word] for word in args.baths.split(",")]
        with _live(args, calibrations, SensorConfig) as live:
            points = read_baths(live, baths, pressure_hpa, _prompt())
    _save(calibrations, field_check(args.rig, args.channel, _now(args), points))


def _fitting(args: argparse.Namespace, calibrations: "CalibrationLog") -> None:
    import uuid

    from monitor.probes import SensorConfig

    uid, known = str(uuid.uuid4()), _now(args)
    fact = SensorConfig(
        uid, args.rig, args.channel, known, args.type, args.tolerance_class, args.converter, args.linearise
    )
    _save(calibrations, fact)


def _sample(args: argparse.Namespace, calibrations: "CalibrationLog") -> None:
    from monitor.calibration import read_sample
    from monitor.probes import PhCalibration, SensorConfig

    cook = _running(args)
    calibration = calibrations.facts().latest(PhCalibration, args.rig, args.channel, _now(args))
    with _live(args, calibrations, SensorConfig) as live:
        ph = read_sample(live, calibration, args.percent, args.temperature, _prompt(), args.steady)
    print(f"pH {ph:.2f} in {args.percent:g} % at {args.temperature:g} °C.")
    if cook is not None:
        fields = {"ph": round(ph, 3), "sample_percent": args.percent, "temperature_c": args.temperature}
        cook.log_event("ph read", fields=fields)
        print(f"Logged with {cook.name}.")


def _list(args: argparse.Namespace, calibrations: "CalibrationLog") -> None:
    from monitor.calibration import calibration_list

    for line in calibration_list(calibrations.facts(), args.rig, _now(args)) or [
        f"No calibration of {args.rig} is known."
    ]:
        print(line)
    if calibrations.unread:
        print(f"{calibrations.unread} lines of {calibrations.path} are no calibrations and were passed over.")


def _take_back(args: argparse.Namespace, calibrations: "CalibrationLog") -> None:
    import uuid

    from monitor.calibration import CalibrationUsageError
    from monitor.probes import Retraction

    matches = [fact for fact in calibrations.facts().all if fact.uid.startswith(args.uid) and fact.rig == args.rig]
    if len(matches) != 1 or not args.uid:
        raise CalibrationUsageError(
            f"{len(matches)} calibrations of {args.rig} begin with {args.uid!r}: calibrate list shows them."
        )
    calibrations.add(Retraction(str(uuid.uuid4()), matches[0].uid, _now(args)))
    print(f"Taken back: {matches[0].uid[:8]}, {matches[0].channel}.")
