"""What the monitor itself publishes at the source's broker."""

import secrets
from collections import deque
from dataclasses import dataclass

from monitor.runtime import Clock, Level, Report
from monitor.sources.mqtt_connection import MqttConnection
from monitor.sources.mqtt_events import Connected, Disconnected
from monitor.sources.source import SourceUrl

MOST_WAITING = 100
ONLINE, OFFLINE = "online", "offline"
# What was due longer ago is told anew by then, if it still stands; a retained message is kept for its topic.
STALE_S = 900.0


@dataclass(frozen=True, slots=True)
class _Unsent:
    topic: str
    payload: str
    retained: bool
    since_s: float


class MqttPublisher:
    """Publishes with QoS 1; what cannot go out now goes out when the broker is back.

    alive_topic: says ``online``, retained, for as long as this lives; ``offline`` when it ends, said by the broker
    itself where this vanishes, its machine with it.
    """

    def __init__(self, url: SourceUrl, clock: Clock, say: Report, alive_topic: str | None = None) -> None:
        self._say = say
        self._clock = clock
        self._alive_topic = alive_topic
        will = None if alive_topic is None else (alive_topic, OFFLINE)
        self._link = MqttConnection(url, clock, f"kettleside-{secrets.token_hex(6)}", persistent=False, will=will)
        # The oldest are let go: what was due long ago helps nobody.
        self._waiting: deque[_Unsent] = deque(maxlen=MOST_WAITING)
        self._trouble: str | None = None

    def tend(self) -> None:
        """Keeps the connection, and sends what waits."""
        for happening in self._link.poll(0.05):
            if isinstance(happening, Connected):
                self._trouble = None
                if self._alive_topic is not None:
                    self._link.publish(self._alive_topic, ONLINE, True)
            elif isinstance(happening, Disconnected) and happening.reason != self._trouble:
                self._trouble = happening.reason
                self._say(happening.reason, Level.WARNING)
        self._send()

    def publish(self, topic: str, payload: str, *, retained: bool = False) -> None:
        """Takes a message, to be sent now or when the broker is back."""
        # Of a retained topic only the latest matters.
        if retained:
            rest = [waiting for waiting in self._waiting if waiting.topic != topic]
            self._waiting.clear()
            self._waiting.extend(rest)
        self._waiting.append(_Unsent(topic, payload, retained, self._clock.real_s()))
        self._send()

    @property
    def emptied(self) -> bool:
        """Whether the broker is there and nothing waits."""
        return self._link.connected and not self._waiting

    def _send(self) -> None:
        while self._waiting:
            first = self._waiting[0]
            if not first.retained and self._clock.real_s() - first.since_s >= STALE_S:
                self._say(f"{first.payload} was not sent to {first.topic}: it came too late.", Level.WARNING)
            elif not self._link.publish(first.topic, first.payload, first.retained):
                return
            self._waiting.popleft()

    def close(self) -> None:
        """Says goodbye to the broker."""
        if self._alive_topic is not None:
            self._link.publish(self._alive_topic, OFFLINE, True)
        self._link.close()
