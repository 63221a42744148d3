"""The arguments of ``kettleside calibrate``, one function for each thing that it can do."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from monitor.cli.log import columns_spec, rig_name

if TYPE_CHECKING:
    from monitor.probes import BufferPoint

    Subparsers: TypeAlias = argparse._SubParsersAction[argparse.ArgumentParser]

CAUTION = "Goggles and gloves, and never a glass probe in the hot paste: rinse it with water between dips."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    kinds = parser.add_subparsers(dest="what", required=True, metavar="WHAT")
    _add_ph(kinds)
    _add_thermocouple(kinds)
    _add_fitting(kinds)
    _add_sample(kinds)
    _common(kinds.add_parser("list", help="every calibration, and what it says of the probe"), None, live=False)
    back = kinds.add_parser("take-back", help="undo a calibration; readings are as before")
    _common(back, None, live=False)
    back.add_argument("uid", help="the first letters of its name, as list shows it")


def _add_ph(kinds: "Subparsers") -> None:
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


def _add_thermocouple(kinds: "Subparsers") -> None:
    bath = kinds.add_parser("thermocouple", help="a thermocouple in ice water and boiling water")
    _common(bath, "paste")
    bath.add_argument("--baths", default="ice,boiling", choices=("ice,boiling", "ice", "boiling"), help="(ice,boiling)")
    bath.add_argument("--pressure", type=float, metavar="HPA", help="the barometer in the kitchen")
    bath.add_argument("--sea-level", type=float, metavar="HPA", help="or the weather report's pressure, and")
    bath.add_argument("--altitude", type=float, metavar="M", help="how high the kitchen lies")
    bath.add_argument("--ice", type=float, metavar="C", help="what it showed in ice water; then nothing is read")
    bath.add_argument("--boiling", type=float, metavar="C", help="what it showed in boiling water")


def _add_fitting(kinds: "Subparsers") -> None:
    fitting = kinds.add_parser("fitting", help="which thermocouple and converter hang on a channel")
    _common(fitting, "paste", live=False)
    fitting.add_argument("--type", default="K", choices=("K", "J", "T"), help="the thermocouple's type (K)")
    fitting.add_argument("--class", dest="tolerance_class", type=int, default=2, choices=(1, 2), help="IEC 60584-1 (2)")
    fitting.add_argument(
        "--converter", default="", choices=("MAX31855", "MAX31856", "MAX6675"), help="the chip; leave out for emf"
    )
    fitting.add_argument("--linearise", action="store_true", help="mend the MAX31855's straight line")


def _add_sample(kinds: "Subparsers") -> None:
    sample = kinds.add_parser("sample", help="read a diluted, cooled sample and log its pH with the running cook")
    _common(sample, "ph")
    sample.add_argument("--percent", type=float, default=1.0, metavar="P", help="paste in the sample, by weight (1)")
    sample.add_argument("--temperature", type=float, default=25.0, metavar="C", help="of the sample (25)")
    _steady(sample)


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
