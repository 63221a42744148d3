"""What a broker's own thread tells, and paho's client made to tell it."""

from dataclasses import dataclass
from queue import SimpleQueue
from typing import TypeAlias

from paho.mqtt import client as paho
from paho.mqtt.enums import MQTTErrorCode

from monitor.sources.tcp import network_words


@dataclass(frozen=True, slots=True)
class Connected:
    """The broker took us. resumed: it still had our session, with what was sent meanwhile."""

    generation: int
    resumed: bool


@dataclass(frozen=True, slots=True)
class Disconnected:
    """There is no connection. reason: one sentence. It is tried again."""

    generation: int
    reason: str


@dataclass(frozen=True, slots=True)
class MqttMessage:
    """One message. arrived: cook time in Unix seconds. mid: the broker's number for this delivery."""

    generation: int
    topic: str
    payload: bytes
    arrived: float
    mid: int
    qos: int
    retained: bool
    repeated: bool


MqttEvent: TypeAlias = Connected | Disconnected | MqttMessage


class Client(paho.Client):
    """paho's client, which also tells when its thread has ended, whatever the reason."""

    def __init__(self, happenings: "SimpleQueue[MqttEvent]", generation: int, *args: object, **kwargs: object) -> None:
        self.happenings = happenings
        self.generation = generation
        self.why_gone: str | None = None
        self.reached_s: float | None = None
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]

    def loop_forever(self, timeout: float = 1.0, retry_first_connection: bool = False) -> MQTTErrorCode:  # noqa: ARG002
        try:
            # Reconnecting is ours, because the password file is read anew for each try.
            return super().loop_forever(timeout, retry_first_connection=False)
        except OSError as error:
            self.why_gone = network_words(f"{self.host}:{self.port}", error)
        except Exception as error:  # noqa: BLE001 - a broken broker can make paho raise anything
            self.why_gone = f"The broker {self.host}:{self.port} sends what is not MQTT ({type(error).__name__})."
        finally:
            reason = self.why_gone or f"The connection to the broker {self.host}:{self.port} broke off."
            self.happenings.put(Disconnected(self.generation, reason))
        return MQTTErrorCode.MQTT_ERR_CONN_LOST
