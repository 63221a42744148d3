"""What the monitor itself publishes at the source's broker."""

import secrets
from collections import deque

from monitor.clock import Clock
from monitor.say import Level, Say
from monitor.sources import SourceUrl
from monitor.sources.broker import BrokerLink, Connected, Gone

MOST_WAITING = 100


class Outbox:
    """Publishes with QoS 1; what cannot go out now goes out when the broker is back."""

    def __init__(self, url: SourceUrl, clock: Clock, say: Say) -> None:
        self._say = say
        self._link = BrokerLink(url, clock, f"kettleside-{secrets.token_hex(6)}", persistent=False)
        # The oldest are let go: what was due long ago helps nobody.
        self._waiting: deque[tuple[str, str, bool]] = deque(maxlen=MOST_WAITING)
        self._trouble: str | None = None

    def tend(self) -> None:
        """Keeps the connection, and sends what waits."""
        for happening in self._link.poll(0.05):
            if isinstance(happening, Connected):
                self._trouble = None
            elif isinstance(happening, Gone) and happening.reason != self._trouble:
                self._trouble = happening.reason
                self._say(happening.reason, Level.WARNING)
        while self._waiting and self._link.publish(*self._waiting[0]):
            self._waiting.popleft()

    def publish(self, topic: str, payload: str, *, retained: bool = False) -> None:
        """Takes a message, to be sent now or when the broker is back."""
        # Of a retained topic only the latest matters.
        if retained:
            rest = [waiting for waiting in self._waiting if waiting[0] != topic]
            self._waiting.clear()
            self._waiting.extend(rest)
        self._waiting.append((topic, payload, retained))
        while self._waiting and self._link.publish(*self._waiting[0]):
            self._waiting.popleft()

    def close(self) -> None:
        """Says goodbye to the broker."""
        self._link.close()
