"""A connection to an MQTT broker that is made again for as long as it must be.

paho's thread only fills a queue; everything is decided in the caller's thread, in ``poll``.
"""

import os
import socket
from collections.abc import Sequence
from pathlib import Path
from queue import Empty, SimpleQueue

from paho.mqtt import client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from monitor.runtime import Clock, MonitorError
from monitor.sources.mqtt_events import Client, Connected, Disconnected, MqttEvent, MqttMessage
from monitor.sources.source import FIRST_RETRY_S, LAST_RETRY_S, SourceError, SourceUrl
from monitor.sources.tcp import has_lost_its_address, notice_when_swallowed, ssl_words

PASSWORD_VARIABLE = "KETTLESIDE_MQTT_PASSWORD"
# A broker that does not answer within this, and once more within this when asked, is taken for lost.
KEEPALIVE_S = 4
CONNECT_WITHIN_S = 2.0
# A broker that was reached must take us or refuse us this soon at the first try; each later try waits twice as long.
WELCOME_WITHIN_S = 2.0
LONGEST_WELCOME_S = 4.0
LOOK_AT_ADDRESS_S = 1.0
# A connection that ends sooner was refused in some way, so the next try waits longer.
WELL_AFTER_S = 2.0
# How long a broker keeps for us what was sent while we were away.
SESSION_KEPT_S = 7 * 86400
MOST_UNSTORED = 1000
_VERSIONS = {"3.1.1": paho.MQTTv311, "5": paho.MQTTv5}


class BrokerError(MonitorError):
    """A broker that cannot be used. why: one sentence."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


class MqttConnection:
    """A connection that comes back. subscriptions: topic filters, taken with QoS 1.

    client_id: the same after every restart where ``persistent``, so that the broker keeps the session.
    will: topic and payload that the broker publishes, retained, when we vanish without a goodbye.
    Raises SourceError for a URL that cannot work.
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
        if not url.host:
            raise SourceError(url.text, "it lacks the broker's name, such as mqtt://192.168.1.20/kettleside/+/readings")
        version = url.options.get("version")
        if version is not None and version not in _VERSIONS:
            raise SourceError(url.text, f"its version is {version!r}; it must be 3.1.1 or 5")
        if ("cert" in url.options) != ("key" in url.options):
            raise SourceError(url.text, "cert and key belong together")
        self._url = url
        self._clock = clock
        self._client_id = client_id
        self._subscriptions = tuple(subscriptions)
        self._persistent = persistent
        self._will = will
        self._version = version or "5"
        self._version_fixed = version is not None
        self.port = url.port or (8883 if url.scheme == "mqtts" else 1883)
        self._happenings: SimpleQueue[MqttEvent] = SimpleQueue()
        self._client: Client | None = None
        self._retry_s = 0.0
        self._delay_s = FIRST_RETRY_S
        self._tried_s = 0.0
        self._welcome_s = WELCOME_WITHIN_S
        self._connected = False
        self._connected_s = 0.0
        self._address_looked_s = 0.0
        self.generation = 0

    @property
    def connected(self) -> bool:
        """Whether the broker has taken us."""
        return self._connected

    def poll(self, timeout_s: float) -> list[MqttEvent]:
        """What happened, at once when something did, else after at most this many real seconds."""
        if self._client is None:
            wait_s = self._retry_s - self._clock.real_s()
            if wait_s > 0.0:
                late = self._wait(min(wait_s, timeout_s))
                if late or wait_s >= timeout_s:
                    return late
                timeout_s -= wait_s
            try:
                self._try()
            except BrokerError as error:
                return [self._gone(error.why)]
        happenings = self._wait(timeout_s)
        if not happenings and self._is_unanswered():
            self._welcome_s = min(self._welcome_s * 2.0, LONGEST_WELCOME_S)
            return [self._give_up(f"The broker {self._url.host}:{self.port} does not answer.")]
        if not happenings and self._is_elsewhere():
            return [self._give_up("The network gave this machine another address.")]
        return happenings

    def _is_unanswered(self) -> bool:
        """Whether the broker was reached and has said neither yes nor no for too long."""
        if self._client is None or self._connected or self._client.reached_s is None:
            return False
        return self._clock.real_s() - self._client.reached_s > self._welcome_s

    def _is_elsewhere(self) -> bool:
        """Whether the connection is from an address that this machine no longer has; looked for once a second."""
        now_s = self._clock.real_s()
        if self._client is None or not self._connected or now_s - self._address_looked_s < LOOK_AT_ADDRESS_S:
            return False
        self._address_looked_s = now_s
        sock = self._client.socket()
        return isinstance(sock, socket.socket) and has_lost_its_address(sock)

    def _give_up(self, reason: str) -> Disconnected:
        """Leaves a connection on which nothing can come, so that a new one can be made."""
        if self._client is not None:
            self._client.disconnect()
        return self._gone(reason)

    def _wait(self, timeout_s: float) -> list[MqttEvent]:
        heard: list[MqttEvent] = []
        try:
            happening = self._happenings.get(timeout=max(timeout_s, 0.001))
            while True:
                # What an abandoned client still says is of no use: its messages come again.
                if happening.generation == self.generation:
                    heard.append(self._noted(happening))
                if len(heard) >= MOST_UNSTORED:
                    return heard
                happening = self._happenings.get_nowait()
        except Empty:
            return heard

    def _noted(self, happening: MqttEvent) -> MqttEvent:
        if isinstance(happening, Connected):
            self._connected = True
            self._connected_s = self._clock.real_s()
            self._welcome_s = WELCOME_WITHIN_S
        elif isinstance(happening, Disconnected):
            return self._gone(happening.reason)
        return happening

    def _gone(self, reason: str) -> Disconnected:
        if not self._connected and not self._version_fixed:
            # An old broker may shut the door without a word when it is spoken to in the newer version.
            self._version = "3.1.1" if self._version == "5" else "5"
        gone = Disconnected(self.generation, reason)
        now_s = self._clock.real_s()
        if self._connected and now_s - self._connected_s > WELL_AFTER_S:
            self._delay_s = FIRST_RETRY_S
        was_connected, self._connected = self._connected, False
        self._client = None
        self.generation += 1
        # A try that took its time has waited already.
        self._retry_s = now_s + self._delay_s if was_connected else max(now_s, self._tried_s + self._delay_s)
        self._delay_s = min(self._delay_s * 2.0, LAST_RETRY_S)
        return gone

    def _try(self) -> None:
        self._tried_s = self._clock.real_s()
        newer = self._version == "5"
        client = Client(
            self._happenings,
            self.generation,
            CallbackAPIVersion.VERSION2,
            client_id=self._client_id,
            clean_session=None if newer else not self._persistent,
            protocol=_VERSIONS[self._version],
            reconnect_on_failure=False,
            manual_ack=True,
        )
        client.connect_timeout = CONNECT_WITHIN_S
        client.on_connect = self._on_connect
        client.on_message = self._on_message
        client.on_subscribe = self._on_subscribe
        client.on_disconnect = self._on_disconnect
        client.on_socket_open = self._on_socket_open
        if self._url.user is not None:
            client.username_pw_set(self._url.user, self._password())
        if self._will is not None:
            client.will_set(*self._will, 1, True)
        if self._url.scheme == "mqtts":
            self._set_tls(client)
        properties = None
        if newer:
            properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
            properties.ReceiveMaximum = MOST_UNSTORED
            if self._persistent:
                properties.SessionExpiryInterval = SESSION_KEPT_S
        client.connect_async(
            self._url.host,
            self.port,
            KEEPALIVE_S,
            clean_start=not self._persistent if newer else paho.MQTT_CLEAN_START_FIRST_ONLY,
            properties=properties,
        )
        try:
            client.loop_start()
        except (OSError, RuntimeError) as error:
            raise BrokerError(f"The broker cannot be reached now ({error}).") from None
        self._client = client

    def _password(self) -> str | None:
        named = self._url.options.get("password_file")
        if named is None:
            return os.environ.get(PASSWORD_VARIABLE)
        try:
            return Path(named).read_text(encoding="utf-8").rstrip("\r\n")
        except (OSError, UnicodeDecodeError) as error:
            why = error.strerror if isinstance(error, OSError) else "it is not UTF-8"
            raise BrokerError(f"The password file {named} cannot be read ({why}).") from None

    def _set_tls(self, client: Client) -> None:
        options = self._url.options
        for name in ("ca", "cert", "key"):
            if name in options and not Path(options[name]).is_file():
                raise BrokerError(f"There is no file {options[name]}, which the source's option {name} names.")
        try:
            client.tls_set(
                options.get("ca"),
                options.get("cert"),
                options.get("key"),
                # Without a word here OpenSSL would ask the terminal for an encrypted key's password.
                keyfile_password="",
            )
        except (OSError, ValueError) as error:
            raise BrokerError(f"The certificates for the broker cannot be used ({ssl_words(error)}).") from None

    def _on_socket_open(self, client: paho.Client, _userdata: object, sock: object) -> None:
        assert isinstance(client, Client)
        client.reached_s = self._clock.real_s()
        if isinstance(sock, socket.socket):
            notice_when_swallowed(sock)

    def _on_connect(
        self,
        client: paho.Client,
        _userdata: object,
        flags: paho.ConnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        assert isinstance(client, Client)
        if reason.is_failure:
            client.why_gone = self._refusal_words(reason)
            return
        if self._subscriptions:
            client.subscribe([(topic, 1) for topic in self._subscriptions])
        self._happenings.put(Connected(client.generation, flags.session_present))

    def _refusal_words(self, reason: ReasonCode) -> str:
        name = str(reason)
        where = f"The broker {self._url.host}:{self.port}"
        if name in ("Bad user name or password", "Not authorized"):
            if self._url.user is None:
                return f"{where} wants a user and a password: write mqtt://USER@... and set {PASSWORD_VARIABLE}."
            return f"{where} refuses the user {self._url.user} with this password."
        return f"{where} refuses us: {name.lower()}."

    def _on_message(self, client: paho.Client, _userdata: object, message: paho.MQTTMessage) -> None:
        assert isinstance(client, Client)
        try:
            topic = message.topic
        except UnicodeDecodeError:
            topic = ""
        self._happenings.put(
            MqttMessage(
                client.generation,
                topic,
                bytes(message.payload),
                self._clock.now(),
                message.mid,
                message.qos,
                message.retain,
                message.dup,
            )
        )

    def _on_subscribe(
        self,
        client: paho.Client,
        _userdata: object,
        _mid: int,
        reasons: list[ReasonCode],
        _properties: Properties | None,
    ) -> None:
        assert isinstance(client, Client)
        refused = [topic for topic, reason in zip(self._subscriptions, reasons, strict=False) if reason.is_failure]
        if refused:
            client.why_gone = f"The broker {self._url.host}:{self.port} does not let us read {refused[0]}."
            client.disconnect()

    def _on_disconnect(
        self,
        client: paho.Client,
        _userdata: object,
        flags: paho.DisconnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        assert isinstance(client, Client)
        if flags.is_disconnect_packet_from_server and client.why_gone is None:
            client.why_gone = f"The broker {self._url.host}:{self.port} ended the connection: {str(reason).lower()}."

    def acknowledge(self, mid: int, qos: int) -> None:
        """Tells the broker that it may forget this delivery."""
        if self._client is not None and self._connected and qos:
            self._client.ack(mid, qos)

    def publish(self, topic: str, payload: str, retained: bool) -> bool:
        """Publishes with QoS 1; False when there is no connection."""
        if self._client is None or not self._connected:
            return False
        return self._client.publish(topic, payload, 1, retained).rc == MQTTErrorCode.MQTT_ERR_SUCCESS

    def close(self) -> None:
        """Says goodbye to the broker, which keeps the session where it is persistent."""
        client, self._client = self._client, None
        self._connected = False
        if client is None:
            return
        client.disconnect()
        while True:
            try:
                # The thread's last word; a connection attempt under way may take longer than anyone waits.
                if isinstance(self._happenings.get(timeout=1.0), Disconnected):
                    return
            except Empty:
                return
