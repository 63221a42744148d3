"""What happens on a connection to an MQTT broker, as its own thread reports it."""

from dataclasses import dataclass
from typing import TypeAlias


@dataclass(frozen=True, slots=True)
class Connected:
    """The broker accepted the connection. resumed: it still had our session, with what was sent meanwhile.

    generation: counts connections, so that the events of an abandoned one can be told from those of its successor.
    """

    generation: int
    resumed: bool


@dataclass(frozen=True, slots=True)
class Disconnected:
    """The connection is lost, or could not be made; it is tried again. reason: one sentence."""

    generation: int
    reason: str


@dataclass(frozen=True, slots=True)
class MqttMessage:
    """One message. arrived: cook time in Unix seconds. mid: the packet identifier of this delivery.

    retained: it is the broker's copy for new subscribers. repeated: the broker may have delivered it before.
    """

    generation: int
    topic: str
    payload: bytes
    arrived: float
    mid: int
    qos: int
    retained: bool
    repeated: bool


MqttEvent: TypeAlias = Connected | Disconnected | MqttMessage
