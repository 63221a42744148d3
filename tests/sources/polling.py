"""What the source tests share: a pseudo-terminal that plays a rig, and listening until something is heard."""

import os
import tty
from collections.abc import Callable

from monitor.protocol import Pack, encode_line
from monitor.runtime import SystemClock
from monitor.sources.opener import open_source
from monitor.sources.source import Source, SourceItem
from monitor.sources.url import parse_source_url

CLOCK = SystemClock()
PATIENCE_S = 10.0


def line(paste_c: float, seq: int) -> bytes:
    """One pack as a rig sends it."""
    return encode_line([{"n": "paste", "u": "Cel", "v": paste_c}, {"n": "seq", "u": "count", "v": seq}])


class Terminal:
    """The rig's end of a pseudo-terminal."""

    def __init__(self) -> None:
        self.rig, listener = os.openpty()
        tty.setraw(listener)
        self.path = os.ttyname(listener)
        os.close(listener)

    def send(self, data: bytes) -> None:
        """Sends bytes to whoever listens."""
        while data:
            data = data[os.write(self.rig, data) :]

    def close(self) -> None:
        """Pulls the cable."""
        if self.rig >= 0:
            os.close(self.rig)
            self.rig = -1


def opened(url: str) -> Source:
    """The source that a URL names, on the real clock."""
    return open_source(parse_source_url(url), CLOCK, None, "test")


def listen(
    source: Source, enough: Callable[[list[SourceItem]], bool], within_s: float = PATIENCE_S
) -> list[SourceItem]:
    """Everything heard until there is enough of it; fails when that takes too long."""
    heard: list[SourceItem] = []
    end_s = CLOCK.real_s() + within_s
    while not enough(heard):
        left_s = end_s - CLOCK.real_s()
        assert left_s > 0, f"after {within_s} s only: {heard[-5:]}"
        heard += source.poll(min(left_s, 0.2))
    return heard


def packs_of(heard: list[SourceItem]) -> list[Pack]:
    """The packs among what was heard."""
    return [item for item in heard if isinstance(item, Pack)]


def has(kind: type, count: int = 1) -> Callable[[list[SourceItem]], bool]:
    """Whether at least so many of this kind were heard."""
    return lambda heard: sum(isinstance(item, kind) for item in heard) >= count
