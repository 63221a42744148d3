"""Hearing everything that a broker or the serial ports of this machine send, whatever it is."""

import secrets
from collections.abc import Mapping
from typing import Protocol

from monitor.listening.heard import Heard
from monitor.listening.port_ear import PortEar
from monitor.runtime import Clock
from monitor.sources import (
    Connected,
    Disconnected,
    MqttConnection,
    MqttMessage,
    PortError,
    SourceError,
    SourceUrl,
    baud_of_url,
    listed_ports,
    port_of_url,
    topic_filter,
    wait_readable,
)

LIST_EVERY_S = 0.5


class Ear(Protocol):
    """Something that hears.

    problems: what is wrong now, in sentences; nobody need be told of it once it is gone.
    """

    @property
    def problems(self) -> tuple[str, ...]: ...

    def poll(self, timeout_s: float) -> list[Heard]:
        """What was heard within this many real seconds."""
        ...

    def options(self) -> Mapping[str, Mapping[str, str]]:
        """By place: options of the connection that the URL did not name and that turned out to be right."""
        ...

    def close(self) -> None: ...


def open_ear(url: SourceUrl, clock: Clock) -> Ear:
    """What hears at this URL: a broker's topics, all where it names none; one port; or every port of this machine.

    It connects when it is polled, and keeps trying. Raises SourceError.
    """
    if url.scheme in ("mqtt", "mqtts"):
        return BrokerEar(url, clock)
    if url.scheme == "rig":
        raise SourceError(url.text, "the built-in rig sends packs; there is nothing to find out")
    return PortsEar(url, clock)


class BrokerEar:
    """Hears the topics of a broker, for as long as it listens: the broker keeps nothing for it."""

    def __init__(self, url: SourceUrl, clock: Clock) -> None:
        filters = [topic_filter(url) if url.path not in ("", "/") else "#"]
        self._connection = MqttConnection(
            url, clock, f"kettleside-listen-{secrets.token_hex(3)}", filters, persistent=False
        )
        self._problem = ""

    @property
    def problems(self) -> tuple[str, ...]:
        """See Ear."""
        return (self._problem,) if self._problem else ()

    def poll(self, timeout_s: float) -> list[Heard]:
        """See Ear."""
        heard = []
        for event in self._connection.poll(timeout_s):
            if isinstance(event, MqttMessage):
                self._connection.acknowledge(event.mid, event.qos)
                heard.append(Heard(event.topic, event.payload, event.arrived, event.retained))
            elif isinstance(event, Connected):
                self._problem = ""
            elif isinstance(event, Disconnected):
                self._problem = event.reason
        return heard

    def options(self) -> Mapping[str, Mapping[str, str]]:
        """See Ear."""
        return {}

    def close(self) -> None:
        """See Ear."""
        self._connection.close()


class PortsEar:
    """Hears the lines of one port, or of every port of this machine, and finds out the speed of each."""

    def __init__(self, url: SourceUrl, clock: Clock) -> None:
        self._clock = clock
        self._name = port_of_url(url)
        self._also = url.options.get("also", "")
        self._baud = baud_of_url(url) if "baud" in url.options else None
        self._ports: dict[str, PortEar] = {}
        self._problems: dict[str, str] = {}
        self._listed_s: float | None = None

    @property
    def problems(self) -> tuple[str, ...]:
        """See Ear."""
        if self._name is None and self._listed_s is not None and not self._ports and not self._problems:
            return ("This machine has no serial port now; look at the cable.",)
        return (*self._problems.values(), *(port.problem for port in self._ports.values() if port.problem))

    def poll(self, timeout_s: float) -> list[Heard]:
        """See Ear."""
        now_s = self._clock.real_s()
        if self._listed_s is None or now_s - self._listed_s >= LIST_EVERY_S:
            self._listed_s = now_s
            self._open_listed()
        heard = []
        readable = wait_readable([port.port for port in self._ports.values()], timeout_s)
        for name, port in list(self._ports.items()):
            try:
                heard += port.hear() if port.port in readable else port.wait()
            except PortError as error:
                self._problems[name] = str(error)
                self._ports.pop(name).close()
        return heard

    def _open_listed(self) -> None:
        names = [self._name] if self._name is not None else listed_ports(self._also)
        for name in names:
            if name in self._ports:
                continue
            try:
                self._ports[name] = PortEar(name, self._baud, self._clock)
                self._problems.pop(name, None)
            except PortError as error:
                self._problems[name] = str(error)
        for gone in [name for name in self._problems if name not in names]:
            del self._problems[gone]

    def options(self) -> Mapping[str, Mapping[str, str]]:
        """See Ear."""
        found = {name: port.found_baud for name, port in self._ports.items()}
        return {name: {"baud": str(baud)} for name, baud in found.items() if baud is not None}

    def close(self) -> None:
        """See Ear."""
        for port in self._ports.values():
            port.close()
        self._ports.clear()
