"""A connection to an MQTT broker that is made again for as long as it must be."""

import socket
from collections.abc import Sequence
from queue import Empty, SimpleQueue

from paho.mqtt.client import MQTTMessageInfo
from paho.mqtt.enums import MQTTErrorCode

from monitor.runtime import Clock
from monitor.sources.mqtt_client import MOST_UNSTORED, BrokerError, MqttClient, MqttSetup
from monitor.sources.mqtt_events import Connected, Disconnected, MqttEvent
from monitor.sources.source import FIRST_RETRY_S, LAST_RETRY_S
from monitor.sources.tcp import has_lost_its_address
from monitor.sources.url import SourceUrl

# A broker reached by TCP must accept or refuse us (CONNACK) within this at the first attempt; each later one waits
# twice as long, up to the second.
CONNACK_WITHIN_S = 2.0
LONGEST_CONNACK_S = 4.0
CHECK_ADDRESS_EVERY_S = 1.0
# A connection that ends sooner was refused in some way, so the next attempt waits longer.
STABLE_AFTER_S = 2.0


class MqttConnection:
    """A connection that comes back.

    subscriptions: topic filters, taken with QoS 1. client_id: the same after every restart where ``persistent``, so
    that the broker keeps the session. will: topic and payload that the broker publishes, retained, when this client
    vanishes without a DISCONNECT. Raises SourceError for a URL that cannot work.
    """

    def __init__(
        self,
        url: SourceUrl,
        clock: Clock,
        client_id: str,
        subscriptions: Sequence[str] = (),
        *,
        persistent: bool,
        will: tuple[str, str] | None = None,
    ) -> None:
        self._setup = MqttSetup(url, client_id, tuple(subscriptions), persistent, will)
        self._setup.check()
        self._clock = clock
        version = url.options.get("version")
        self._version = version or "5"
        self._is_version_fixed = version is not None
        self._events: SimpleQueue[MqttEvent] = SimpleQueue()
        self._client: MqttClient | None = None
        self._retry_s = 0.0
        self._delay_s = FIRST_RETRY_S
        self._tried_s = 0.0
        self._connack_within_s = CONNACK_WITHIN_S
        self._connected = False
        self._connected_s = 0.0
        self._address_checked_s = 0.0
        self._unacknowledged: list[MQTTMessageInfo] = []
        self.generation = 0

    @property
    def connected(self) -> bool:
        """Whether the broker has accepted us."""
        return self._connected

    def poll(self, timeout_s: float) -> list[MqttEvent]:
        """What happened, at once when something did, else after at most this many real seconds."""
        if self._client is None:
            wait_s = self._retry_s - self._clock.real_s()
            if wait_s > 0.0:
                events = self._wait(min(wait_s, timeout_s))
                if events or wait_s >= timeout_s:
                    return events
                timeout_s -= wait_s
            try:
                self._connect()
            except BrokerError as error:
                return [self._note_disconnected(error.why)]
        events = self._wait(timeout_s)
        if not events and self._is_unanswered():
            self._connack_within_s = min(self._connack_within_s * 2.0, LONGEST_CONNACK_S)
            return [self._abandon(f"{self._setup.broker} does not answer.")]
        if not events and self._has_lost_its_address():
            return [self._abandon("The network gave this machine another address.")]
        return events

    def _is_unanswered(self) -> bool:
        """Whether the broker was reached and has neither accepted nor refused us for too long."""
        if self._client is None or self._connected or self._client.reached_s is None:
            return False
        return self._clock.real_s() - self._client.reached_s > self._connack_within_s

    def _has_lost_its_address(self) -> bool:
        """Whether the connection is from an address that this machine no longer has; checked once a second."""
        now_s = self._clock.real_s()
        if self._client is None or not self._connected or now_s - self._address_checked_s < CHECK_ADDRESS_EVERY_S:
            return False
        self._address_checked_s = now_s
        sock = self._client.socket()
        return isinstance(sock, socket.socket) and has_lost_its_address(sock)

    def _abandon(self, reason: str) -> Disconnected:
        """Leaves a connection on which nothing can come, so that a new one can be made."""
        if self._client is not None:
            self._client.disconnect()
        return self._note_disconnected(reason)

    def _wait(self, timeout_s: float) -> list[MqttEvent]:
        events: list[MqttEvent] = []
        try:
            event = self._events.get(timeout=max(timeout_s, 0.001))
            while True:
                # What an abandoned client still reports is of no use: its messages come again.
                if event.generation == self.generation:
                    events.append(self._handled(event))
                if len(events) >= MOST_UNSTORED:
                    return events
                event = self._events.get_nowait()
        except Empty:
            return events

    def _handled(self, event: MqttEvent) -> MqttEvent:
        if isinstance(event, Connected):
            self._connected = True
            self._connected_s = self._clock.real_s()
            self._connack_within_s = CONNACK_WITHIN_S
        elif isinstance(event, Disconnected):
            return self._note_disconnected(event.reason)
        return event

    def _note_disconnected(self, reason: str) -> Disconnected:
        if not self._connected and not self._is_version_fixed:
            # An old broker may close the connection without an answer when it is spoken to in the newer version.
            self._version = "3.1.1" if self._version == "5" else "5"
        event = Disconnected(self.generation, reason)
        now_s = self._clock.real_s()
        if self._connected and now_s - self._connected_s > STABLE_AFTER_S:
            self._delay_s = FIRST_RETRY_S
        was_connected, self._connected = self._connected, False
        self._client, self._unacknowledged = None, []
        self.generation += 1
        # An attempt that took its time has waited already.
        self._retry_s = now_s + self._delay_s if was_connected else max(now_s, self._tried_s + self._delay_s)
        self._delay_s = min(self._delay_s * 2.0, LAST_RETRY_S)
        return event

    def _connect(self) -> None:
        self._tried_s = self._clock.real_s()
        client = MqttClient(self._setup, self._clock, self._events, self.generation, self._version)
        client.start()
        self._client = client

    def acknowledge(self, mid: int, qos: int) -> None:
        """Tells the broker that it may forget this delivery."""
        if self._client is not None and self._connected and qos:
            self._client.ack(mid, qos)

    def publish(self, topic: str, payload: str, retained: bool) -> bool:
        """Publishes with QoS 1; False when there is no connection."""
        if self._client is None or not self._connected:
            return False
        sent = self._client.publish(topic, payload, 1, retained)
        if sent.rc != MQTTErrorCode.MQTT_ERR_SUCCESS:
            return False
        self._unacknowledged = [earlier for earlier in self._unacknowledged if not earlier.is_published()]
        self._unacknowledged.append(sent)
        return True

    @property
    def is_settled(self) -> bool:
        """Whether the broker has acknowledged everything that was published on this connection.

        Until then ``close`` may lose the last of it: to close a socket on which an acknowledgement waits unread resets
        the connection (RFC 1122, section 4.2.2.13).
        """
        return self._connected and all(sent.is_published() for sent in self._unacknowledged)

    def close(self) -> None:
        """Sends DISCONNECT to the broker, which keeps the session where it is persistent."""
        client, self._client = self._client, None
        self._connected = False
        if client is None:
            return
        client.disconnect()
        while True:
            try:
                # The last event of the thread; an attempt to connect may take longer than anyone waits.
                if isinstance(self._events.get(timeout=1.0), Disconnected):
                    return
            except Empty:
                return
