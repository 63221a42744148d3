"""Wrong units and names at 103 degC: how soon each is told of, beside a right rig.

    python -m tests.bench.wrong_names [--broker]

Real bytes at one pack a second of the cook, through a pseudo-terminal or with ``--broker`` a real mosquitto, into the
source that ``kettleside log`` opens, a recording, and the page's look every five seconds; only cook time jumps. Prints
seconds of the cook from its first pack until it is told; ends with 1 where what is understood comes more than a minute
after a right rig, or what is not has no alarm within ten seconds of its minute or two.
"""

import argparse
import sys
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from tests.logger.wrong_rigs import (
    BARE,
    NEAR_BOIL,
    NO_PASTE,
    REFUSED,
    RIGHT,
    UNDERSTOOD,
    Told,
    WrongRig,
    by_broker,
    by_cable,
)
from tests.sources.mosquitto import Mosquitto

WITHIN_S, SLACK_S = 60.0, 10.0


def measure(ask: Callable[[WrongRig], Told], rigs: tuple[WrongRig, ...]) -> bool:
    """Prints the table; whether all is as promised."""
    right = ask(RIGHT)
    print(f"{'what is sent':<42}{'told':>24}{'after s':>9}{'right rig':>11}")
    print(f"{RIGHT.name:<42}{right.name or 'nothing':>24}{right.after_s:>9.0f}{right.after_s:>11.0f}")
    good = right.name == NEAR_BOIL
    for rig in rigs:
        told = ask(rig)
        print(f"{rig.name:<42}{told.name or 'nothing':>24}{told.after_s:>9.0f}{right.after_s:>11.0f}")
        if rig in REFUSED:
            good &= told.name == NO_PASTE and abs(told.after_s - rig.alarm_s) <= SLACK_S
            print(f"    {told.words}")
        else:
            good &= told.name == NEAR_BOIL and told.after_s <= right.after_s + WITHIN_S
    return good


def main() -> int:
    """Measures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--broker", action="store_true", help="through a real mosquitto instead of a pseudo-terminal")
    if not parser.parse_args().broker:
        return 0 if measure(by_cable, (*UNDERSTOOD, BARE, *REFUSED)) else 1
    with tempfile.TemporaryDirectory() as folder:
        broker = Mosquitto(Path(folder)).start()
        try:
            return 0 if measure(lambda rig: by_broker(rig, broker), (*UNDERSTOOD, *REFUSED)) else 1
        finally:
            with suppress(OSError):
                broker.stop()


if __name__ == "__main__":
    sys.exit(main())
