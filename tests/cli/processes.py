"""Watching processes come and go."""

import threading
from collections.abc import Callable
from pathlib import Path

from monitor.runtime import SystemClock

CLOCK = SystemClock()
PATIENCE_S = 20.0


def until(true: Callable[[], bool]) -> float:
    """Waits for something to be so; how many real seconds it took."""
    started_s, patience = CLOCK.real_s(), threading.Event()
    while not true():
        assert CLOCK.real_s() - started_s < PATIENCE_S, "it never came to be"
        patience.wait(0.02)
    return CLOCK.real_s() - started_s


def alive(pid: int) -> bool:
    """Whether this process runs; one that only waits to be reaped does not."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False
    return state != "Z"


def children_of(pid: int) -> list[int]:
    """The running processes that this one started."""
    text = Path(f"/proc/{pid}/task/{pid}/children").read_text()
    return [int(word) for word in text.split() if alive(int(word))]
