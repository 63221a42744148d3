"""``kettleside rig``: the virtual rig as a device of its own, over serial or MQTT."""

import argparse
import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.simulator import Action, Transport

HELP = "Plays an invented cook as a device of its own: a virtual cooker, its probes and a person."
PASSWORD_VARIABLE = "KETTLESIDE_MQTT_PASSWORD"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    transports = parser.add_mutually_exclusive_group(required=True)
    transports.add_argument("--serial", action="store_true", help="send to a pseudo-terminal, whose path is printed")
    transports.add_argument(
        "--mqtt",
        metavar="URL",
        help=f"send to a broker: mqtt://[user@]host[:port][/topic]; password in {PASSWORD_VARIABLE}",
    )
    parser.add_argument(
        "--speed", type=speed_argument, default=1.0, metavar="N", help="seconds of cook in one second (1)"
    )
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="the same seed gives the same cook (1)")


def speed_argument(text: str) -> float:
    """Seconds of cook in a real second, from 0.1 to 1000. Raises argparse.ArgumentTypeError."""
    try:
        speed = float(text)
    except ValueError:
        speed = 0.0
    if not 0.1 <= speed <= 1000.0:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be a number from 0.1 to 1000")
    return speed


def run(args: argparse.Namespace) -> int:
    """Plays the invented cook until it is stopped; the crock goes on cooling after the person is done."""
    from monitor.runtime import SystemClock, stop_on_signal
    from monitor.simulator import FixedPractice, MqttTransport, SerialTransport, Simulation, invented_setting, play

    clock = SystemClock(rate=args.speed)
    with stop_on_signal() as stop:
        transport: Transport
        if args.serial:
            transport = terminal = SerialTransport(on_notice=_print_buzzer)
            print(terminal.path, flush=True)
        else:
            transport = broker = MqttTransport(args.mqtt, os.environ.get(PASSWORD_VARIABLE), _print_buzzer)
            print(f"{broker.topic}/readings", flush=True)
        simulation = Simulation(invented_setting(), FixedPractice, args.seed, clock.now())
        try:
            play(simulation, transport, clock, stop, _print_actions, timed=False, until_done=False)
        finally:
            transport.close()
        return stop.exit_status


def _print_buzzer(name: str) -> None:
    print(f"The buzzer sounds: {name}.", file=sys.stderr, flush=True)


def _print_actions(actions: "Sequence[Action]") -> None:
    from monitor.simulator import action_text

    # On standard error, so that standard output holds the path and nothing else.
    for action in actions:
        print(action_text(action), file=sys.stderr, flush=True)
