"""What the monitor itself publishes through the source's broker."""

import secrets
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

from monitor.runtime import Clock, Level, Report
from monitor.sources.mqtt_connection import MqttConnection
from monitor.sources.mqtt_events import Connected, Disconnected, MqttMessage
from monitor.sources.url import SourceUrl

MOST_QUEUED = 100
ONLINE, OFFLINE = "online", "offline"
# A message that waited longer is dropped: what it says is published again by then, if it still holds. A retained
# message is never too old, because it is the state of its topic.
STALE_S = 900.0


@dataclass(frozen=True, slots=True)
class _QueuedMessage:
    topic: str
    payload: str
    retained: bool
    queued_s: float


class MqttPublisher:
    """Publishes with QoS 1; what cannot go out now goes out when the broker is back.

    alive_topic: holds ``online``, retained, while this publisher lives, then ``offline``: the broker publishes that
    itself, as the will, where the process or its machine fails. subscriptions: topic filters of what ``received``
    gives; where the broker refuses one, the connection is of no use for publishing either. connections: how often the
    broker accepted us. connected_s: when ``tend`` last saw that, real seconds.
    """

    def __init__(
        self,
        url: SourceUrl,
        clock: Clock,
        report: Report,
        alive_topic: str | None = None,
        subscriptions: Sequence[str] = (),
    ) -> None:
        self._report = report
        self._clock = clock
        self._alive_topic = alive_topic
        will = None if alive_topic is None else (alive_topic, OFFLINE)
        client_id = f"kettleside-{secrets.token_hex(6)}"
        # Without a persistent session nothing arrives that was sent while nobody was here to hear it.
        self._connection = MqttConnection(url, clock, client_id, subscriptions, persistent=False, will=will)
        # The oldest are dropped: what was due long ago helps nobody.
        self._queue: deque[_QueuedMessage] = deque(maxlen=MOST_QUEUED)
        self._reported: str | None = None
        self._received: list[MqttMessage] = []
        self.connections = 0
        self.connected_s = 0.0

    def tend(self) -> None:
        """Keeps up the connection, and sends what is queued; to be called again and again."""
        for event in self._connection.poll(0.05):
            if isinstance(event, Connected):
                self._reported = None
                self.connections += 1
                self.connected_s = self._clock.real_s()
                if self._alive_topic is not None:
                    self._connection.publish(self._alive_topic, ONLINE, True)
            elif isinstance(event, Disconnected) and event.reason != self._reported:
                self._reported = event.reason
                self._report(event.reason, Level.WARNING)
            elif isinstance(event, MqttMessage):
                self._received.append(event)
                self._connection.acknowledge(event.mid, event.qos)
        self._send()

    def received(self) -> list[MqttMessage]:
        """What came in on the subscriptions since this was last called."""
        received, self._received = self._received, []
        return received

    def publish(self, topic: str, payload: str, *, retained: bool = False) -> None:
        """Queues a message, to be sent now or when the broker is back."""
        # Only the latest retained message of a topic matters.
        if retained:
            rest = [other for other in self._queue if other.topic != topic]
            self._queue.clear()
            self._queue.extend(rest)
        self._queue.append(_QueuedMessage(topic, payload, retained, self._clock.real_s()))
        self._send()

    @property
    def emptied(self) -> bool:
        """Whether nothing is queued and the broker has acknowledged what was sent since it last accepted us."""
        return self._connection.is_settled and not self._queue

    def _send(self) -> None:
        while self._queue:
            first = self._queue[0]
            if not first.retained and self._clock.real_s() - first.queued_s >= STALE_S:
                self._report(f"{first.payload} was not sent to {first.topic}: it came too late.", Level.WARNING)
            elif not self._connection.publish(first.topic, first.payload, first.retained):
                return
            self._queue.popleft()

    def close(self) -> None:
        """Publishes ``offline`` and disconnects."""
        if self._alive_topic is not None:
            self._connection.publish(self._alive_topic, OFFLINE, True)
        self._connection.close()
