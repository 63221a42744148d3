"""Packs from an MQTT broker (3.1.1 and 5), each acknowledged only when it is stored."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from urllib.parse import unquote

from monitor.protocol import AHEAD_S, ColumnSpec, Pack, PackError, bad_line, parse_pack
from monitor.runtime import Clock
from monitor.sources.mqtt_connection import MOST_UNSTORED, MqttConnection
from monitor.sources.mqtt_events import Connected, Disconnected, MqttMessage
from monitor.sources.source import Info, Lost, Restored, SourceError, SourceItem, SourceUrl

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
    body: bytes


def topic_filter(url: SourceUrl) -> str:
    """The topic filter of a source URL. Raises SourceError.

    >>> from monitor.sources.source import parse_source_url
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
    it, and may be stored twice when the logger is killed between storing and acknowledging it.
    """

    # A 3.1.1 broker holds back after 20 unacknowledged messages (mosquitto's default), so store sooner.
    window = 10
    port = None

    def __init__(self, url: SourceUrl, clock: Clock, client_id: str) -> None:
        self.url = url.text
        self._clock = clock
        self._filter = topic_filter(url)
        subscriptions = [self._filter]
        if self._filter.endswith("/readings"):
            subscriptions.append(self._filter.removesuffix("readings") + "status")
        self._link = MqttConnection(url, clock, client_id, subscriptions, persistent=True)
        self._waiting: dict[int, _Delivery] = {}
        self._deliveries = 0
        # What was stored, in case the broker missed that we said so. A dict keeps its order.
        self._stored: dict[tuple[int, bytes], None] = {}
        self._lost: str | None = None
        self._passed_over: set[str] = set()

    def poll(self, timeout_s: float) -> list[SourceItem]:
        """What was heard within this many real seconds; see Source."""
        heard: list[SourceItem] = []
        for happening in self._link.poll(timeout_s):
            if isinstance(happening, MqttMessage):
                heard += self._message(happening)
            elif isinstance(happening, Disconnected):
                heard += self._lose(happening.reason)
            elif not happening.resumed:
                self._begin_anew(happening)
        return heard

    def _begin_anew(self, connected: Connected) -> None:
        """The broker has forgotten our session, so its numbers start anew."""
        self._stored.clear()
        for delivery in self._waiting.values():
            if delivery.generation != connected.generation:
                delivery.qos = 0

    def _lose(self, reason: str) -> list[SourceItem]:
        if reason == self._lost:
            return []
        self._lost = reason
        return [Lost(reason, self._clock.now())]

    def _message(self, message: MqttMessage) -> list[SourceItem]:
        last_level = message.topic.rsplit("/", 1)[-1]
        if last_level == "status":
            self._link.acknowledge(message.mid, message.qos)
            rig = message.topic.rsplit("/", 2)[-2] if "/" in message.topic else "there"
            return self._lose(f"The rig {rig} is offline.") if message.payload == b"offline" else []
        if self._seen(message):
            return []
        heard = self._payload(message, is_readings=last_level == "readings" or message.topic == self._filter)
        pack = next((item for item in heard if isinstance(item, Pack)), None)
        if pack is None or pack.delivery is None:
            self._link.acknowledge(message.mid, message.qos)
            return heard
        if message.qos:
            self._waiting[pack.delivery] = _Delivery(
                pack, message.generation, message.mid, message.qos, _body(message.topic, message.payload)
            )
        if self._lost is not None and not message.retained:
            self._lost = None
            heard.insert(0, Restored(message.arrived))
        return heard

    def _seen(self, message: MqttMessage) -> bool:
        """Whether this is the same delivery once more, after the connection broke."""
        if not message.repeated:
            return False
        body = _body(message.topic, message.payload)
        if (message.mid, body) in self._stored:
            self._link.acknowledge(message.mid, message.qos)
            return True
        for delivery in self._waiting.values():
            if delivery.qos and delivery.mid == message.mid and delivery.body == body:
                delivery.generation = message.generation
                return True
        return False

    def _payload(self, message: MqttMessage, *, is_readings: bool) -> list[SourceItem]:
        try:
            if len(message.payload) > LONGEST_PAYLOAD:
                raise PackError(f"it is longer than {LONGEST_PAYLOAD} bytes")
            pack = parse_pack(message.payload, message.arrived, message.topic)
        except PackError as error:
            if not is_readings:
                return []
            return [bad_line(message.payload, error.why, message.arrived)]
        if message.retained and not _is_of_now(pack):
            # Nobody can tell how old it is, or it is old.
            if message.topic in self._passed_over or len(self._passed_over) > 100:
                return []
            self._passed_over.add(message.topic)
            return [Info(f"A retained pack on {message.topic} was passed over: it may be of any day.")]
        self._deliveries += 1
        # A retained count may be that of another day; between it and the next nothing need have been sent.
        seq = None if message.retained else pack.seq
        return [replace(pack, seq=seq, redelivered=message.repeated, delivery=self._deliveries)]

    def stored(self, packs: Iterable[Pack]) -> None:
        """Acknowledges these packs to the broker."""
        for pack in packs:
            delivery = None if pack.delivery is None else self._waiting.pop(pack.delivery, None)
            if delivery is None or not delivery.qos:
                continue
            self._stored[delivery.mid, delivery.body] = None
            if len(self._stored) > 2 * MOST_UNSTORED:
                del self._stored[next(iter(self._stored))]
            # On a later connection the number may mean another message; this one comes again there.
            if delivery.generation == self._link.generation:
                self._link.acknowledge(delivery.mid, delivery.qos)

    def close(self) -> None:
        """Lets go of the connection; the broker keeps the session."""
        self._link.close()


def _is_of_now(pack: Pack) -> bool:
    """Whether every record says, by a time that is no distance from now, that it was measured within the minute."""
    return all(
        record.time is not None and not record.relative and -RETAINED_WITHIN_S <= record.time - pack.arrived <= AHEAD_S
        for record in pack.records
    )


def _body(topic: str, payload: bytes) -> bytes:
    return hashlib.blake2b(topic.encode("utf-8", "surrogatepass") + b"\0" + payload, digest_size=16).digest()


def open_mqtt_source(url: SourceUrl, clock: Clock, columns: Sequence[ColumnSpec] | None, identity: str) -> MqttSource:
    """The MQTT source that the URL names. identity: see ``monitor.sources.source.open_mqtt_source``. Raises
    SourceError."""
    if columns is not None:
        raise SourceError(url.text, "--columns is for serial lines; over MQTT a pack is SenML")
    # MQTT 3.1.1 section 3.1.3.1 lets a broker refuse more than 23 bytes.
    digest = hashlib.blake2b(f"{identity}\n{url.text}".encode(), digest_size=6).hexdigest()
    return MqttSource(url, clock, f"kettleside-{digest}")
