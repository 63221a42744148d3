"""The virtual rig as a device: real bytes to a pseudo-terminal, or packs to an MQTT broker."""

import errno
import json
import os
import select
import socket
import ssl
import sys
import threading
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from typing import Any, Protocol
from urllib.parse import unquote, urlsplit

from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.reasoncodes import ReasonCode

from monitor.protocol import encode_line
from monitor.runtime import Clock, MonitorError
from monitor.simulator.operator import Action
from monitor.simulator.simulation import Simulation

Records = Sequence[Mapping[str, object]]
# Called with the subject of a notice that reached the rig, as its buzzer would be.
NoticeHandler = Callable[[str], None]

# An active reader empties the terminal's buffer in less; a slow one gets complete lines or none.
WRITE_TIMEOUT_S = 1.0
CONNECT_S = 10.0
MAX_QUEUED_MESSAGES = 4096
MAX_NOTICE_BYTES = 4096


class DeviceError(MonitorError):
    """The virtual rig cannot send. where: terminal or broker; why: one clause."""

    def __init__(self, where: str, why: str) -> None:
        self.where = where
        self.why = why
        super().__init__(f"The virtual rig cannot use {where}: {why}.")


class AddressError(DeviceError):
    """A broker's address that is malformed."""

    exit_status = 2


def _ignore_notice(_name: str) -> None:
    """The handler of a rig without a buzzer."""


def _notice_of(line: bytes) -> str | None:
    """The subject of a notice, or None where the line is no notice."""
    try:
        return str(json.loads(line)["notice"])
    except (ValueError, KeyError, TypeError, RecursionError):
        return None


class Transport(Protocol):
    """The connection over which packs are sent."""

    def send(self, records: Records) -> None:
        """Sends one pack."""
        ...

    def close(self) -> None:
        """Closes the connection."""
        ...


class SerialTransport:
    """The device's end of a pseudo-terminal; a serial source opens the other end by ``path``.

    on_notice: called with the subject of each notice received. lost: lines dropped because nobody read, as at a real
    port. Raises DeviceError where there is no terminal to be had.
    """

    def __init__(self, write_timeout_s: float = WRITE_TIMEOUT_S, on_notice: NoticeHandler = _ignore_notice) -> None:
        # Holding the reader's end open keeps its path valid while a logger comes and goes.
        self._device_end, self._reader_end, self.path = _open_terminal()
        self.source = f"serial://{self.path}"
        self.lost = 0
        self._write_timeout_s = write_timeout_s
        self._has_reader = True
        self._unsent = b""
        self._on_notice = on_notice
        self._received = b""

    def send(self, records: Records) -> None:
        """Sends one line with its CRC, completely or not at all."""
        self._read_notices()
        # A partly written line is finished before the next one begins.
        self._unsent = self._write(self._unsent)
        line = encode_line(records)
        left = line if self._unsent else self._write(line)
        if len(left) == len(line):
            self.lost += 1
        else:
            self._unsent = left

    def _read_notices(self) -> None:
        with suppress(BlockingIOError):
            *lines, self._received = (self._received + os.read(self._device_end, MAX_NOTICE_BYTES)).split(b"\n")
            self._received = self._received[-MAX_NOTICE_BYTES:]
            for name in filter(None, map(_notice_of, lines)):
                self._on_notice(name)

    def _write(self, data: bytes) -> bytes:
        """Writes ``data`` and returns the part that could not be written."""
        while data:
            _, ready, _ = select.select([], [self._device_end], [], self._write_timeout_s if self._has_reader else 0.0)
            self._has_reader = bool(ready)
            if not ready:
                break
            try:
                data = data[os.write(self._device_end, data) :]
            except BlockingIOError:
                break
        return data

    def close(self) -> None:
        """Closes both ends; a reader sees the port disappear."""
        for end in (self._device_end, self._reader_end):
            with suppress(OSError):
                os.close(end)


def _open_terminal() -> tuple[int, int, str]:
    """The device's end, the reader's end and its path."""
    if sys.platform == "win32":
        raise DeviceError("a pseudo-terminal", "this system has none")
    import pty
    import tty

    try:
        device_end, reader_end = pty.openpty()
    except OSError as error:
        raise DeviceError("a pseudo-terminal", (error.strerror or str(error)).lower()) from None
    tty.setraw(reader_end)
    os.set_blocking(device_end, False)
    return device_end, reader_end, os.ttyname(reader_end)


class SocketTransport:
    """A device on this machine's own network, for systems without pseudo-terminals. One reader at a time is served.

    source: the URL at which a logger reads it. lost: lines that nobody read.
    """

    def __init__(self) -> None:
        self._server = socket.create_server(("127.0.0.1", 0))
        self._server.setblocking(False)
        self._reader: socket.socket | None = None
        self.source = f"serial+socket://127.0.0.1:{self._server.getsockname()[1]}"
        self.lost = 0

    def send(self, records: Records) -> None:
        """Sends one line with its CRC to the reader that came last."""
        with suppress(BlockingIOError):
            reader, _ = self._server.accept()
            reader.settimeout(WRITE_TIMEOUT_S)
            self._leave()
            self._reader = reader
        try:
            if self._reader is not None:
                self._reader.sendall(encode_line(records))
                return
        except OSError:
            self._leave()
        self.lost += 1

    def _leave(self) -> None:
        if self._reader is not None:
            self._reader.close()
            self._reader = None

    def close(self) -> None:
        """Closes the connection and the port."""
        self._leave()
        self._server.close()


def local_transport() -> SerialTransport | SocketTransport:
    """A device whose bytes a logger of this machine can read. Raises DeviceError."""
    return SocketTransport() if sys.platform == "win32" else SerialTransport()


class MqttTransport:
    """A connection to a broker: packs at QoS 1, and a retained status with a last will.

    url: ``mqtt://[user@]host[:port][/topic]`` or ``mqtts://``; the topic is ``kettleside/rig`` where it is missing.
    on_notice: called with the subject of each notice published to the rig.
    Raises AddressError for a malformed URL, DeviceError when the broker cannot be reached or refuses.
    """

    def __init__(self, url: str, password: str | None = None, on_notice: NoticeHandler = _ignore_notice) -> None:
        parts = urlsplit(url)
        if parts.scheme not in ("mqtt", "mqtts") or not parts.hostname:
            raise AddressError(repr(url), "the address must look like mqtt://host or mqtt://user@host:1883/topic")
        if parts.password is not None:
            raise AddressError(f"the broker at {parts.hostname}", "a password never goes on the command line")
        self.topic = unquote(parts.path.strip("/")) or "kettleside/rig"
        self._where = f"the broker at {parts.hostname}"
        self._on_notice = on_notice
        self._answered = threading.Event()
        self._refusal: str | None = None
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv311)
        self._client.max_queued_messages_set(MAX_QUEUED_MESSAGES)
        self._client.will_set(f"{self.topic}/status", "offline", qos=1, retain=True)
        self._client.on_connect = self._on_connect
        self._client.on_message = self._on_message
        if parts.username:
            self._client.username_pw_set(unquote(parts.username), password)
        if parts.scheme == "mqtts":
            self._client.tls_set_context(ssl.create_default_context())
        try:
            port = parts.port or (8883 if parts.scheme == "mqtts" else 1883)
            self._client.connect(parts.hostname, port)
        except (OSError, ValueError) as error:
            raise DeviceError(self._where, str(getattr(error, "strerror", None) or error).lower()) from None
        self._client.loop_start()
        if not self._answered.wait(CONNECT_S) or self._refusal:
            self._client.loop_stop()
            raise DeviceError(self._where, self._refusal or "it did not answer")

    def _on_connect(
        self, client: mqtt.Client, _userdata: Any, _flags: mqtt.ConnectFlags, reason: ReasonCode, _properties: Any
    ) -> None:
        if reason.is_failure:
            self._refusal = str(reason).lower()
        else:
            client.publish(f"{self.topic}/status", "online", qos=1, retain=True)
            client.subscribe(f"{self.topic}/notice", 1)
        self._answered.set()

    def _on_message(self, _client: mqtt.Client, _userdata: Any, message: mqtt.MQTTMessage) -> None:
        name = _notice_of(bytes(message.payload))
        if name:
            self._on_notice(name)

    def send(self, records: Records) -> None:
        """Sends one pack; queues at most the last 4096 while the broker is away."""
        payload = json.dumps(records, separators=(",", ":"), allow_nan=False)
        self._client.publish(f"{self.topic}/readings", payload, qos=1)

    def close(self) -> None:
        """Publishes the offline status and disconnects."""
        last = self._client.publish(f"{self.topic}/status", "offline", qos=1, retain=True)
        with suppress(RuntimeError, ValueError):
            last.wait_for_publish(2.0)
        self._client.disconnect()
        self._client.loop_stop()


class ActionReport(Protocol):
    """Called with the actions of the virtual person."""

    def __call__(self, actions: Sequence[Action]) -> None: ...


def play(
    simulation: Simulation,
    transport: Transport,
    clock: Clock,
    stop: threading.Event,
    report: ActionReport,
    *,
    timed: bool,
    until_done: bool,
) -> None:
    """Runs a simulation at the clock's pace until ``stop`` is set, or until the cook is finished.

    Parameters
    ----------
    transport : where each pack is sent.
    report : called with the person's actions.
    timed : whether packs carry their time; a separate device sends none, as a small sketch would.
    until_done : whether to end with the cook.

    Raises DeviceError when the transport fails.
    """
    while not stop.is_set():
        step = simulation.step()
        clock.wait_until(step.at)
        try:
            transport.send(step.timed_records() if timed else step.records)
        except OSError as error:
            if stop.is_set() and error.errno in (errno.EBADF, errno.EIO):
                return
            raise DeviceError("its terminal", (error.strerror or str(error)).lower()) from None
        if step.actions:
            report(step.actions)
        if until_done and simulation.done:
            return
