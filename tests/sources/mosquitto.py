"""A real mosquitto for the tests, a wire to it that can be cut, and a client that plays the rig."""

import select
import shutil
import socket
import subprocess
import threading
from contextlib import suppress
from pathlib import Path
from threading import Event
from typing import Any

from paho.mqtt import client as paho
from paho.mqtt.enums import CallbackAPIVersion

from monitor.runtime import SystemClock

CLOCK = SystemClock()
PATIENCE_S = 10.0


def free_port() -> int:
    """A TCP port that nobody uses just now."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        return int(server.getsockname()[1])


def mosquitto_path() -> str:
    """Where mosquitto is; a machine without it fails the test."""
    found = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
    assert found is not None, "mosquitto is not installed; on Debian: apt-get install mosquitto"
    return found


class Mosquitto:
    """One broker with the lines of configuration given; started and stopped at will.

    host: the address that it listens at; started_by: a command in front of its own, such as one that names its host.
    """

    def __init__(
        self,
        folder: Path,
        *lines: str,
        listener: tuple[str, ...] = (),
        host: str = "127.0.0.1",
        started_by: tuple[str, ...] = (),
    ) -> None:
        self.port = free_port()
        self.folder = folder
        self._started_by = started_by
        self._config = folder / "mosquitto.conf"
        self._config.write_text(
            "\n".join(["user root", f"listener {self.port} {host}", *listener, *(lines or ("allow_anonymous true",))])
            + "\n"
        )
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> "Mosquitto":
        """Starts it and waits until it says that it is running."""
        command = [*self._started_by, mosquitto_path(), "-c", str(self._config)]
        self._process = subprocess.Popen(command, stderr=subprocess.PIPE)
        assert self._process.stderr is not None
        said, end_s = b"", CLOCK.real_s() + PATIENCE_S
        while b"running" not in said:
            ready, _, _ = select.select([self._process.stderr], [], [], end_s - CLOCK.real_s())
            assert ready, f"mosquitto did not start: {said!r}"
            more = self._process.stderr.read1(4096)  # type: ignore[attr-defined]
            assert more, f"mosquitto ended: {said!r}"
            said += more
        # A full pipe would make it wait.
        threading.Thread(target=_drain, args=(self._process.stderr,), daemon=True).start()
        return self

    def stop(self, *, kill: bool = False) -> None:
        """Ends it; ``kill`` gives it no time to write its sessions down."""
        if self._process is not None:
            self._process.kill() if kill else self._process.terminate()
            try:
                self._process.wait(2.0)
            except subprocess.TimeoutExpired:
                # mosquitto 2.0.11 overlooks a SIGTERM that comes just before its main loop begins.
                self._process.terminate()
                self._process.wait(PATIENCE_S)
            self._process = None


def _drain(stream: Any) -> None:
    with suppress(ValueError, OSError):
        while stream.read1(4096):
            pass
    stream.close()


class Rig:
    """Publishes as a rig does, with QoS 1 and a last will."""

    def __init__(
        self,
        port: int,
        name: str = "cooker",
        user: str | None = None,
        password: str | None = None,
        host: str = "127.0.0.1",
    ) -> None:
        self.topic = f"kettleside/{name}"
        self.got: dict[str, bytes] = {}
        self.heard = Event()
        self._client = paho.Client(CallbackAPIVersion.VERSION2, protocol=paho.MQTTv5)
        if user:
            self._client.username_pw_set(user, password)
        self._client.will_set(f"{self.topic}/status", "offline", 1, True)
        self._client.on_message = self._on_message
        connected = Event()
        self._client.on_connect = lambda *_: connected.set()
        self._client.connect(host, port)
        self._client.loop_start()
        assert connected.wait(PATIENCE_S)

    def _on_message(self, _client: object, _data: object, message: paho.MQTTMessage) -> None:
        self.got[message.topic] = bytes(message.payload)
        self.heard.set()

    def subscribe(self, topic: str) -> None:
        """Listens to a topic, as a display on the wall would."""
        self._client.subscribe(topic, 1)

    def send(self, payload: str | bytes, to: str = "readings", *, retained: bool = False) -> None:
        """Publishes and waits until the broker has it."""
        self._client.publish(f"{self.topic}/{to}", payload, 1, retained).wait_for_publish(PATIENCE_S)

    def send_pack(self, paste_c: float, seq: int | None = None, at: float | None = None) -> None:
        """Publishes one pack."""
        time = "" if at is None else f',"t":{at}'
        count = "" if seq is None else f',{{"n":"seq","u":"count","v":{seq}}}'
        self.send(f'[{{"n":"paste","u":"Cel","v":{paste_c}{time}}}{count}]')

    def vanish(self) -> None:
        """Breaks off without a goodbye, so that the broker sends the last will."""
        sock = self._client.socket()
        assert isinstance(sock, socket.socket)
        sock.shutdown(socket.SHUT_RDWR)
        self.close()

    def close(self) -> None:
        """Says goodbye."""
        self._client.disconnect()
        self._client.loop_stop()


class Wire:
    """Passes bytes between a port of its own and the broker's, until it is cut."""

    def __init__(self, port: int) -> None:
        self._to = port
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._server.getsockname()[1])
        self._pairs: list[socket.socket] = []
        self._deaf = False
        self._flowing = Event()
        self._flowing.set()
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                near, _ = self._server.accept()
                try:
                    far = socket.create_connection(("127.0.0.1", self._to))
                except OSError:
                    near.close()
                    continue
                self._pairs += [near, far]
                for one, other in ((near, far), (far, near)):
                    threading.Thread(target=self._pass, args=(one, other, one is near), daemon=True).start()

    def _pass(self, one: socket.socket, other: socket.socket, from_us: bool) -> None:
        with suppress(OSError):
            while data := one.recv(65536):
                self._flowing.wait()
                # Acknowledgements that never arrive.
                if not (self._deaf and from_us):
                    other.sendall(data)
        for end in (one, other):
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)

    def swallow(self) -> None:
        """From now on nothing that the monitor sends arrives."""
        self._deaf = True

    def stall(self) -> None:
        """From now on nothing passes, either way, until ``flow``; connections stay open, and new ones are taken."""
        self._flowing.clear()

    def flow(self) -> None:
        """What stood still passes, as what TCP sends again would."""
        self._flowing.set()

    def cut(self) -> None:
        """Breaks every connection; new ones are passed on whole again."""
        self._deaf = False
        self._flowing.set()
        for end in self._pairs:
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()
        self._pairs.clear()

    def close(self) -> None:
        """Ends it."""
        with suppress(OSError):
            self._server.shutdown(socket.SHUT_RDWR)
        self._server.close()
        self.cut()
