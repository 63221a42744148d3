"""``kettleside calibrate``: probes dipped into what is known, and what they read kept as facts."""

import argparse
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.log import columns_spec, rig_name

if TYPE_CHECKING:
    from monitor.calibration import ChannelSample, LiveChannel, Prompt
    from monitor.probes import BufferPoint, CalibrationRecord, StabilityState
    from monitor.session import Cook
    from monitor.storage import CalibrationLog

HELP = (
    "Calibrates a pH probe in buffers and a thermocouple in ice and boiling water. Calibrations are kept beside the "
    "recordings, dated, and applied when a cook is looked at; readings are never rewritten."
)
CAUTION = "Goggles and gloves, and never a glass probe in the hot paste: rinse it with water between dips."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    kinds = parser.add_subparsers(dest="what", required=True, metavar="WHAT")
    ph = kinds.add_parser("ph", help="a pH probe in one, two or three buffers", description=CAUTION)
    _common(ph, "ph")
    ph.add_argument(
        "--buffers", default="7.00,10.01", metavar="LIST", help="the buffers in the order of the dips (7.00,10.01)"
    )
    ph.add_argument("--temperature", type=float, metavar="C", help="of the buffers in °C; asked for if left out")
    ph.add_argument(
        "--point",
        action="append",
        type=_point,
        metavar="BUFFER,C,VOLTS",
        help="a dip measured already, such as 7.00,24.5,0.0061; again for each buffer; then nothing is read",
    )
    _steady(ph)
    ph.add_argument("--probe", default="", metavar="NAME", help="which probe it is, in your own words")
    bath = kinds.add_parser("thermocouple", help="a thermocouple in ice water and boiling water")
    _common(bath, "paste")
    bath.add_argument("--baths", default="ice,boiling", choices=("ice,boiling", "ice", "boiling"), help="(ice,boiling)")
    bath.add_argument("--pressure", type=float, metavar="HPA", help="the barometer in the kitchen")
    bath.add_argument("--sea-level", type=float, metavar="HPA", help="or the weather report's pressure, and")
    bath.add_argument("--altitude", type=float, metavar="M", help="how high the kitchen lies")
    bath.add_argument("--ice", type=float, metavar="C", help="what it showed in ice water; then nothing is read")
    bath.add_argument("--boiling", type=float, metavar="C", help="what it showed in boiling water")
    fitting = kinds.add_parser("fitting", help="which thermocouple and converter hang on a channel")
    _common(fitting, "paste", live=False)
    fitting.add_argument("--type", default="K", choices=("K", "J", "T"), help="the thermocouple's type (K)")
    fitting.add_argument("--class", dest="tolerance_class", type=int, default=2, choices=(1, 2), help="IEC 60584-1 (2)")
    fitting.add_argument(
        "--converter", default="", choices=("MAX31855", "MAX31856", "MAX6675"), help="the chip; leave out for emf"
    )
    fitting.add_argument("--linearise", action="store_true", help="mend the MAX31855's straight line")
    sample = kinds.add_parser("sample", help="read a diluted, cooled sample and log its pH with the running cook")
    _common(sample, "ph")
    sample.add_argument("--percent", type=float, default=1.0, metavar="P", help="paste in the sample, by weight (1)")
    sample.add_argument("--temperature", type=float, default=25.0, metavar="C", help="of the sample (25)")
    _steady(sample)
    _common(kinds.add_parser("list", help="every calibration, and what it says of the probe"), None, live=False)
    back = kinds.add_parser("take-back", help="undo a calibration; readings are as before")
    _common(back, None, live=False)
    back.add_argument("uid", help="the first letters of its name, as list shows it")


def _steady(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--steady", type=_above_zero, default=0.02, metavar="PH", help="steady is less change than this in 30 s (0.02)"
    )


def _above_zero(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0.0 < value <= 1.0:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be above 0 and at most 1")
    return value


def _common(parser: argparse.ArgumentParser, channel: str | None, *, live: bool = True) -> None:
    parser.add_argument(
        "--recordings", type=Path, default=Path("recordings"), metavar="DIR", help="where the cooks are (recordings)"
    )
    parser.add_argument("--rig", type=rig_name, default="cooker", metavar="NAME", help="the cooker's name (cooker)")
    if channel is not None:
        parser.add_argument("--channel", default=channel, metavar="NAME", help=f"the channel ({channel})")
    if live:
        parser.add_argument("--source", metavar="URL", help="read here instead of from the running cook")
        parser.add_argument("--columns", type=columns_spec, metavar="SPEC", help="for bare numbers: paste:Cel,ph:V")


def _point(text: str) -> "BufferPoint":
    from monitor.probes import BufferPoint, find_buffer

    try:
        buffer, temperature_c, volts = text.split(",")
        dip = float(temperature_c), float(volts)
    except ValueError:
        raise argparse.ArgumentTypeError(f"it is {text!r}; each is BUFFER,C,VOLTS, such as 7.00,24.5,0.0061") from None
    try:
        return BufferPoint(find_buffer(buffer).name, *dip)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def run(args: argparse.Namespace) -> int:
    """Does what was asked."""
    from monitor.calibration import UnsteadyReadingError
    from monitor.storage import CalibrationError, CalibrationLog

    book = CalibrationLog(args.recordings)
    book.facts()
    if book.trouble:
        raise CalibrationError(book.path, "it cannot be read")
    deeds: dict[str, Callable[[argparse.Namespace, CalibrationLog], None]] = {
        "ph": _ph,
        "thermocouple": _thermocouple,
        "fitting": _fitting,
        "sample": _sample,
        "list": _list,
        "take-back": _take_back,
    }
    try:
        deeds[args.what](args, book)
    except ValueError as error:
        # What the pure core refuses, it refuses in one sentence.
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
    args: argparse.Namespace, book: "CalibrationLog", *kinds: "type[CalibrationRecord]"
) -> "Iterator[LiveChannel]":
    """The channel's readings, by the facts of these kinds alone."""
    from monitor.calibration import LiveChannel, SourceHistory, UnsteadyReadingError, recorded_history
    from monitor.runtime import SystemClock
    from monitor.sources import open_source, parse_source_url

    clock, facts = SystemClock(), book.facts().of_kinds(*kinds)
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


def _person() -> "Prompt":
    from monitor.calibration import CalibrationUsageError, Prompt

    on_terminal = sys.stderr.isatty()

    def ask(question: str) -> str:
        try:
            return input(question)
        except EOFError:
            raise CalibrationUsageError(
                "Nobody answers on standard input: run it on a terminal, or give what was measured as options."
            ) from None

    def told(sample: "ChannelSample", said: "StabilityState") -> None:
        if on_terminal:
            change = getattr(said, "change", None)
            moving = "settling" if change is None else f"changes by {abs(change):.3f} in half a minute"
            shown = sample.fault if sample.value is None else f"{sample.value:.4f} {sample.unit}, {moving}"
            print(f"\r\x1b[K  {shown}", end="", file=sys.stderr, flush=True)

    def say(line: str) -> None:
        if on_terminal:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)
        print(line, flush=True)

    return Prompt(ask, say, told)


def _keep(book: "CalibrationLog", fact: "CalibrationRecord") -> None:
    from monitor.calibration import calibration_text

    book.add(fact)
    print(f"{calibration_text(fact)} Kept as {fact.uid[:8]} in {book.path}.")


def _ph(args: argparse.Namespace, book: "CalibrationLog") -> None:
    from monitor.calibration import ph_calibration, read_buffers
    from monitor.probes import SensorConfig, find_buffer

    points = args.point
    if not points:
        buffers = [find_buffer(name).name for name in args.buffers.split(",")]
        print(CAUTION)
        with _live(args, book, SensorConfig) as live:
            points = read_buffers(live, buffers, args.temperature, _person(), args.steady)
    _keep(book, ph_calibration(args.rig, args.channel, _now(args), points, args.probe))


def _thermocouple(args: argparse.Namespace, book: "CalibrationLog") -> None:
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
        with _live(args, book, SensorConfig) as live:
            points = read_baths(live, baths, pressure_hpa, _person())
    _keep(book, field_check(args.rig, args.channel, _now(args), points))


def _fitting(args: argparse.Namespace, book: "CalibrationLog") -> None:
    import uuid

    from monitor.probes import SensorConfig

    uid, known = str(uuid.uuid4()), _now(args)
    fact = SensorConfig(
        uid, args.rig, args.channel, known, args.type, args.tolerance_class, args.converter, args.linearise
    )
    _keep(book, fact)


def _sample(args: argparse.Namespace, book: "CalibrationLog") -> None:
    from monitor.calibration import read_sample
    from monitor.probes import PhCalibration, SensorConfig

    cook = _running(args)
    calibration = book.facts().latest(PhCalibration, args.rig, args.channel, _now(args))
    with _live(args, book, SensorConfig) as live:
        ph = read_sample(live, calibration, args.percent, args.temperature, _person(), args.steady)
    print(f"pH {ph:.2f} in {args.percent:g} % at {args.temperature:g} °C.")
    if cook is not None:
        fields = {"ph": round(ph, 3), "sample_percent": args.percent, "temperature_c": args.temperature}
        cook.log_event("ph read", fields=fields)
        print(f"Logged with {cook.name}.")


def _list(args: argparse.Namespace, book: "CalibrationLog") -> None:
    from monitor.calibration import calibration_list

    for line in calibration_list(book.facts(), args.rig, _now(args)) or [f"No calibration of {args.rig} is known."]:
        print(line)
    if book.unread:
        print(f"{book.unread} lines of {book.path} are no calibrations and were passed over.")


def _take_back(args: argparse.Namespace, book: "CalibrationLog") -> None:
    import uuid

    from monitor.calibration import CalibrationUsageError
    from monitor.probes import Retraction

    found = [fact for fact in book.facts().all if fact.uid.startswith(args.uid) and fact.rig == args.rig]
    if len(found) != 1 or not args.uid:
        raise CalibrationUsageError(
            f"{len(found)} calibrations of {args.rig} begin with {args.uid!r}: calibrate list shows them."
        )
    book.add(Retraction(str(uuid.uuid4()), found[0].uid, _now(args)))
    print(f"Taken back: {found[0].uid[:8]}, {found[0].channel}.")
