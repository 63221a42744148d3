"""One attempt at a connection to an MQTT broker: paho's client, set up for it and made to report what happens.

paho's thread only fills a queue with events; every decision is the caller's.
"""

import os
import socket
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue

from paho.mqtt import client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from monitor.runtime import Clock, MonitorError
from monitor.sources.broker_errors import connection_error_text, tls_error_text
from monitor.sources.mqtt_events import Connected, Disconnected, MqttEvent, MqttMessage
from monitor.sources.tcp import limit_unanswered
from monitor.sources.url import SourceError, SourceUrl

PASSWORD_VARIABLE = "KETTLESIDE_MQTT_PASSWORD"
# A broker that does not answer within this, and once more within this when asked, is taken for lost.
KEEPALIVE_S = 4
CONNECT_WITHIN_S = 2.0
# How long a broker keeps for us what was sent while we were away.
SESSION_EXPIRY_S = 7 * 86400
MOST_UNSTORED = 1000
PROTOCOLS = {"3.1.1": paho.MQTTv311, "5": paho.MQTTv5}


class BrokerError(MonitorError):
    """A broker that cannot be used. why: one sentence."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


@dataclass(frozen=True, slots=True)
class MqttSetup:
    """What every attempt at one connection has in common.

    subscriptions: topic filters, taken with QoS 1. persistent: the broker keeps the session, under ``client_id``.
    will: topic and payload that the broker publishes, retained, when this client vanishes without a DISCONNECT.
    """

    url: SourceUrl
    client_id: str
    subscriptions: tuple[str, ...]
    persistent: bool
    will: tuple[str, str] | None

    @property
    def port(self) -> int:
        """The broker's port: that of the URL, else the registered one."""
        return self.url.port or (8883 if self.url.scheme == "mqtts" else 1883)

    @property
    def broker(self) -> str:
        """The broker in a sentence."""
        return f"The broker {self.url.host}:{self.port}"

    def check(self) -> None:
        """Raises SourceError for a URL that cannot work."""
        url = self.url
        if not url.host:
            raise SourceError(url.text, "it lacks the broker's name, such as mqtt://192.168.1.20/kettleside/+/readings")
        version = url.options.get("version")
        if version is not None and version not in PROTOCOLS:
            raise SourceError(url.text, f"its version is {version!r}; it must be 3.1.1 or 5")
        if ("cert" in url.options) != ("key" in url.options):
            raise SourceError(url.text, "cert and key belong together")


class MqttClient(paho.Client):
    """paho's client, which also reports when its thread has ended, whatever the reason.

    version: of MQTT, a key of ``PROTOCOLS``. reached_s: when TCP connected, real seconds, or None.
    """

    def __init__(
        self, setup: MqttSetup, clock: Clock, events: "SimpleQueue[MqttEvent]", generation: int, version: str
    ) -> None:
        self.reached_s: float | None = None
        self._setup = setup
        self._clock = clock
        self._events = events
        self._generation = generation
        self._is_v5 = version == "5"
        self._reason: str | None = None
        super().__init__(
            CallbackAPIVersion.VERSION2,
            client_id=setup.client_id,
            clean_session=None if self._is_v5 else not setup.persistent,
            protocol=PROTOCOLS[version],
            reconnect_on_failure=False,
            manual_ack=True,
        )
        self.connect_timeout = CONNECT_WITHIN_S
        self.on_connect = self._report_connected
        self.on_message = self._report_message
        self.on_subscribe = self._check_subscriptions
        self.on_disconnect = self._note_reason
        self.on_socket_open = self._note_reached

    def start(self) -> None:
        """Begins to connect; what becomes of it is reported as events. Raises BrokerError."""
        setup, url = self._setup, self._setup.url
        if url.user is not None:
            self.username_pw_set(url.user, self._read_password())
        if setup.will is not None:
            self.will_set(*setup.will, 1, True)
        if url.scheme == "mqtts":
            self._set_up_tls()
        properties = None
        if self._is_v5:
            properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
            properties.ReceiveMaximum = MOST_UNSTORED
            if setup.persistent:
                properties.SessionExpiryInterval = SESSION_EXPIRY_S
        self.connect_async(
            url.host,
            setup.port,
            KEEPALIVE_S,
            clean_start=not setup.persistent if self._is_v5 else paho.MQTT_CLEAN_START_FIRST_ONLY,
            properties=properties,
        )
        try:
            self.loop_start()
        except (OSError, RuntimeError) as error:
            raise BrokerError(f"The broker cannot be reached now ({error}).") from None

    def _read_password(self) -> str | None:
        named = self._setup.url.options.get("password_file")
        if named is None:
            return os.environ.get(PASSWORD_VARIABLE)
        try:
            return Path(named).read_text(encoding="utf-8").rstrip("\r\n")
        except (OSError, UnicodeDecodeError) as error:
            why = error.strerror if isinstance(error, OSError) else "it is not UTF-8"
            raise BrokerError(f"The password file {named} cannot be read ({why}).") from None

    def _set_up_tls(self) -> None:
        options = self._setup.url.options
        for name in ("ca", "cert", "key"):
            if name in options and not Path(options[name]).is_file():
                raise BrokerError(f"There is no file {options[name]}, which the source's option {name} names.")
        try:
            self.tls_set(
                options.get("ca"),
                options.get("cert"),
                options.get("key"),
                # Without one here OpenSSL would ask the terminal for an encrypted key's password.
                keyfile_password="",
            )
        except (OSError, ValueError) as error:
            raise BrokerError(f"The certificates for the broker cannot be used ({tls_error_text(error)}).") from None

    def loop_forever(self, timeout: float = 1.0, retry_first_connection: bool = False) -> MQTTErrorCode:  # noqa: ARG002
        """The work of paho's thread. It never reconnects: the password file is read anew for each attempt."""
        try:
            return super().loop_forever(timeout, retry_first_connection=False)
        except OSError as error:
            self._reason = connection_error_text(f"{self.host}:{self.port}", error)
        except Exception as error:  # noqa: BLE001 - a broken broker can make paho raise anything
            self._reason = f"{self._setup.broker} sends what is not MQTT ({type(error).__name__})."
        finally:
            reason = self._reason or f"The connection to the broker {self.host}:{self.port} broke off."
            self._events.put(Disconnected(self._generation, reason))
        return MQTTErrorCode.MQTT_ERR_CONN_LOST

    def _note_reached(self, _client: paho.Client, _userdata: object, sock: object) -> None:
        self.reached_s = self._clock.real_s()
        if isinstance(sock, socket.socket):
            limit_unanswered(sock)

    def _report_connected(
        self,
        _client: paho.Client,
        _userdata: object,
        flags: paho.ConnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        if reason.is_failure:
            self._reason = self._refusal_text(reason)
            return
        if self._setup.subscriptions:
            self.subscribe([(topic, 1) for topic in self._setup.subscriptions])
        self._events.put(Connected(self._generation, flags.session_present))

    def _refusal_text(self, reason: ReasonCode) -> str:
        name, user = str(reason), self._setup.url.user
        if name in ("Bad user name or password", "Not authorized"):
            if user is None:
                wanted = f"write mqtt://USER@... and set {PASSWORD_VARIABLE}"
                return f"{self._setup.broker} wants a user and a password: {wanted}."
            return f"{self._setup.broker} refuses the user {user} with this password."
        return f"{self._setup.broker} refuses us: {name.lower()}."

    def _report_message(self, _client: paho.Client, _userdata: object, message: paho.MQTTMessage) -> None:
        try:
            topic = message.topic
        except UnicodeDecodeError:
            topic = ""
        self._events.put(
            MqttMessage(
                self._generation,
                topic,
                bytes(message.payload),
                self._clock.now(),
                message.mid,
                message.qos,
                message.retain,
                message.dup,
            )
        )

    def _check_subscriptions(
        self,
        _client: paho.Client,
        _userdata: object,
        _mid: int,
        reasons: list[ReasonCode],
        _properties: Properties | None,
    ) -> None:
        results = zip(self._setup.subscriptions, reasons, strict=False)
        refused = [topic for topic, reason in results if reason.is_failure]
        if refused:
            self._reason = f"{self._setup.broker} does not let us read {refused[0]}."
            self.disconnect()

    def _note_reason(
        self,
        _client: paho.Client,
        _userdata: object,
        flags: paho.DisconnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        if flags.is_disconnect_packet_from_server and self._reason is None:
            self._reason = f"{self._setup.broker} ended the connection: {str(reason).lower()}."
