"""Packs from an MQTT broker (3.1.1 and 5), each acknowledged only when it is stored."""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, replace
from urllib.parse import unquote

from monitor.protocol import AHEAD_S, Pack, PackError, PayloadLayout, bad_line, parse_payload
from monitor.runtime import Clock
from monitor.sources.mqtt_client import MOST_UNSTORED
from monitor.sources.mqtt_connection import MqttConnection
from monitor.sources.mqtt_events import Connected, Disconnected, MqttMessage
from monitor.sources.source import Info, Lost, Restored, SourceItem
from monitor.sources.url import SourceError, SourceUrl

LONGEST_PAYLOAD = 65536
# A retained pack is taken only where its own time says that it was measured just now.
RETAINED_WITHIN_S = 60.0


@dataclass(slots=True)
class _Delivery:
    """A pack that was passed on and is not stored yet. generation: of the connection that may acknowledge it."""

    pack: Pack
    generation: int
    mid: int
    qos: int
    digest: bytes


def topic_filter(url: SourceUrl) -> str:
    """The topic filter of a source URL. Raises SourceError.

    >>> from monitor.sources.url import parse_source_url
    >>> topic_filter(parse_source_url("mqtt://broker/kettleside/#"))
    'kettleside/#'
    """
    text = unquote(url.path.removeprefix("/"))
    levels = text.split("/")
    wrong = [x for x in levels if ("+" in x and x != "+") or ("#" in x and x != "#")] or "#" in levels[:-1]
    if not text or wrong or "\0" in text or len(text.encode()) > 65535:
        raise SourceError(url.text, f"{text!r} is no topic filter; write such as kettleside/cooker/readings")
    return text


class MqttSource:
    """An MQTT source with a session that the broker keeps, so that nothing sent meanwhile is lost.

    A pack that neither counts nor times itself gets the time at which it arrived, also where the broker had kept
    it, and may be stored twice when the logger is killed between storing and acknowledging it. With a layout the
    broker keeps nothing.
    """

    # A 3.1.1 broker holds back after 20 unacknowledged messages (mosquitto's default), so store sooner.
    window = 10
    port = None

    def __init__(self, url: SourceUrl, clock: Clock, client_id: str, layout: PayloadLayout | None = None) -> None:
        self.url = url.text
        self._clock = clock
        self._layout = layout
        self._filter = topic_filter(url)
        subscriptions = [self._filter]
        if layout is None and self._filter.endswith("/readings"):
            subscriptions.append(self._filter.removesuffix("readings") + "status")
        # What cannot tell its own time would, kept by the broker for an hour, count as measured when it comes.
        self._connection = MqttConnection(url, clock, client_id, subscriptions, persistent=layout is None)
        self._unstored: dict[int, _Delivery] = {}
        self._last_delivery = 0
        # Stored deliveries, whose acknowledgement the broker may have missed; a dict, because it keeps their order.
        self._stored: dict[tuple[int, bytes], None] = {}
        self._lost_reason: str | None = None
        self._ignored_topics: set[str] = set()
        self._origins: dict[str, str] = {}
        self._mixed: set[str] = set()

    def poll(self, timeout_s: float) -> list[SourceItem]:
        """What was heard within this many real seconds; see Source."""
        items: list[SourceItem] = []
        for event in self._connection.poll(timeout_s):
            if isinstance(event, MqttMessage):
                items += self._handle_message(event)
            elif isinstance(event, Disconnected):
                items += self._report_lost(event.reason)
            elif not event.resumed:
                self._forget_session(event)
        return items

    def _forget_session(self, connected: Connected) -> None:
        """The broker has forgotten our session, so its packet identifiers start anew."""
        self._stored.clear()
        for delivery in self._unstored.values():
            if delivery.generation != connected.generation:
                delivery.qos = 0

    def _report_lost(self, reason: str) -> list[SourceItem]:
        if reason == self._lost_reason:
            return []
        self._lost_reason = reason
        return [Lost(reason, self._clock.now())]

    def _handle_message(self, message: MqttMessage) -> list[SourceItem]:
        last_level = message.topic.rsplit("/", 1)[-1]
        if last_level == "status" and self._layout is None:
            self._connection.acknowledge(message.mid, message.qos)
            rig = message.topic.rsplit("/", 2)[-2] if "/" in message.topic else "there"
            return self._report_lost(f"The rig {rig} is offline.") if message.payload == b"offline" else []
        if self._is_known_delivery(message):
            return []
        # Under a "#" lie other messages too, of which nothing is awaited.
        awaited = self._layout is not None and not self._filter.endswith("#")
        is_readings = awaited or last_level == "readings" or message.topic == self._filter
        items = self._parse_payload(message, is_readings=is_readings)
        pack = next((item for item in items if isinstance(item, Pack)), None)
        if pack is None or pack.delivery is None:
            self._connection.acknowledge(message.mid, message.qos)
            return items
        if message.qos:
            self._unstored[pack.delivery] = _Delivery(
                pack, message.generation, message.mid, message.qos, _message_digest(message.topic, message.payload)
            )
        if self._lost_reason is not None and not message.retained:
            self._lost_reason = None
            items.insert(0, Restored(message.arrived))
        return items

    def _is_known_delivery(self, message: MqttMessage) -> bool:
        """Whether this is the same delivery once more, after the connection broke."""
        if not message.repeated:
            return False
        digest = _message_digest(message.topic, message.payload)
        if (message.mid, digest) in self._stored:
            self._connection.acknowledge(message.mid, message.qos)
            return True
        for delivery in self._unstored.values():
            if delivery.qos and delivery.mid == message.mid and delivery.digest == digest:
                delivery.generation = message.generation
                return True
        return False

    def _parse_payload(self, message: MqttMessage, *, is_readings: bool) -> list[SourceItem]:
        try:
            if len(message.payload) > LONGEST_PAYLOAD:
                raise PackError(f"it is longer than {LONGEST_PAYLOAD} bytes")
            try:
                text = message.payload.decode()
            except UnicodeDecodeError:
                raise PackError("it is not UTF-8") from None
            pack = parse_payload(text, message.arrived, self._layout, message.topic)
        except PackError as error:
            if not is_readings:
                return []
            return [bad_line(message.payload, error.why, message.arrived)]
        if message.retained and not _is_current(pack):
            # Its age is unknown, or it is old.
            if message.topic in self._ignored_topics or len(self._ignored_topics) > 100:
                return []
            self._ignored_topics.add(message.topic)
            return [Info(f"A retained pack on {message.topic} was passed over: it may be of any day.")]
        self._last_delivery += 1
        # A retained pack's count may be of another day: the gap up to the next one need not be packs that were lost.
        seq = None if message.retained else pack.seq
        delivered = replace(pack, seq=seq, redelivered=message.repeated, delivery=self._last_delivery)
        return [*self._mixing_reports(delivered, message.topic), delivered]

    def _mixing_reports(self, pack: Pack, topic: str) -> list[SourceItem]:
        """That one channel comes from two topics, once for each channel; a pack names its sender itself."""
        if self._layout is None:
            return []
        reports: list[SourceItem] = []
        for channel in {record.channel for record in pack.records}:
            first = self._origins.setdefault(channel, topic)
            if first != topic and channel not in self._mixed:
                self._mixed.add(channel)
                reports.append(
                    Info(f"Two topics send {channel}, {first} and {topic}: name one of them in the source, not both.")
                )
        return reports

    def stored(self, packs: Iterable[Pack]) -> None:
        """Acknowledges these packs to the broker."""
        for pack in packs:
            delivery = None if pack.delivery is None else self._unstored.pop(pack.delivery, None)
            if delivery is None or not delivery.qos:
                continue
            self._stored[delivery.mid, delivery.digest] = None
            if len(self._stored) > 2 * MOST_UNSTORED:
                del self._stored[next(iter(self._stored))]
            # On a later connection the number may mean another message; this one comes again there.
            if delivery.generation == self._connection.generation:
                self._connection.acknowledge(delivery.mid, delivery.qos)

    def close(self) -> None:
        """Lets go of the connection; the broker keeps the session."""
        self._connection.close()


def _is_current(pack: Pack) -> bool:
    """Whether every record says, by a time that is no distance from now, that it was measured within the minute."""
    return all(
        record.time is not None and not record.relative and -RETAINED_WITHIN_S <= record.time - pack.arrived <= AHEAD_S
        for record in pack.records
    )


def _message_digest(topic: str, payload: bytes) -> bytes:
    return hashlib.blake2b(topic.encode("utf-8", "surrogatepass") + b"\0" + payload, digest_size=16).digest()


def open_mqtt_source(url: SourceUrl, clock: Clock, layout: PayloadLayout | None, identity: str) -> MqttSource:
    """The MQTT source that the URL names. identity: see ``monitor.sources.source.open_mqtt_source``. Raises
    SourceError."""
    # MQTT 3.1.1 section 3.1.3.1 lets a broker refuse more than 23 bytes.
    digest = hashlib.blake2b(f"{identity}\n{url.text}".encode(), digest_size=6).hexdigest()
    return MqttSource(url, clock, f"kettleside-{digest}", layout)
