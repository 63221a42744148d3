"""A sign of life from a process to the supervisor that started it, each time it goes round its loop."""

import os
from contextlib import suppress

# The supervisor writes the number of the pipe's end here for its children.
HEARTBEAT_VARIABLE = "KETTLESIDE_HEARTBEAT"

_pipe: list[int] = []


def take_heartbeat() -> None:
    """Takes over the pipe that the supervisor left open; its number is not for processes that this one starts."""
    number = os.environ.pop(HEARTBEAT_VARIABLE, "")
    if number.isdecimal():
        os.set_inheritable(int(number), False)
        _pipe[:] = [int(number)]


def beat() -> None:
    """Tells the supervisor that this process goes on. Never waits; does nothing where no supervisor asked for it."""
    for descriptor in _pipe:
        # A full pipe tells as much.
        with suppress(OSError):
            os.write(descriptor, b".")
