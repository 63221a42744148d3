"""A board that is not there, for CPython and MicroPython alike: what rig.py imports, over scripted readings.

``play`` takes a script: {"rig": source of rig.py, "packs": how many, "settings": names to set (written to settings.py
where it runs), "words": {pin: words in turn}, "adc": readings in turn, "broker_away": connections that fail first, "platform": what MicroPython calls the board, "wifi": "there", "absent" or
"wrong password", "errno": of each connection to the broker, "year": of the board's clock, "time_server": whether it
answers, "certificate": whether the broker's is taken, "files": name -> text of files on the board, "version":
of its MicroPython, "first_light": source of first_light.py, which runs instead,
"refused": what the broker refuses, "heard": [[milliseconds from the start, what comes down the cable then], ...],
"notices": the same of the broker}. It prints what went to the serial port, and then one line of JSON: what went to the
broker, how often the watchdog was fed, what was written to the chips, when the buzzer was turned on and off.
"""

import json
import sys


class Names:
    """Something to import from."""

    def __init__(self, **names: object) -> None:
        for name in names:
            setattr(self, name, names[name])


class Board:
    """Its clock, and what went out of it."""

    def __init__(self, script: dict) -> None:  # type: ignore[type-arg]
        self.script = script
        # The ticks of a board wrap at 2**30; a run of a few seconds crosses it.
        self.now_ms = self.began_ms = 2**30 - 3000
        self.rung: list = []  # type: ignore[type-arg]
        self.heard = b""
        self.sent: list = []  # type: ignore[type-arg]
        self.fed = 0
        self.closed = 0
        self.written: list = []  # type: ignore[type-arg]
        self.selected: list = []  # type: ignore[type-arg]

    def sleep_ms(self, count: int) -> None:
        assert count >= 0
        self.now_ms += count

    def ticks_ms(self) -> int:
        return self.now_ms % 2**30

    def due(self, queue: list) -> "str | None":  # type: ignore[type-arg]
        """What has come by now, one at a time."""
        return str(queue.pop(0)[1]) if queue and queue[0][0] <= self.now_ms - self.began_ms else None


def play(script: dict) -> None:  # type: ignore[type-arg]
    """Runs rig.py over the script."""
    board = Board(script)

    class Pin:
        OUT = 1

        def __init__(self, number: int, mode: int = 0) -> None:
            self.number = number

        def value(self, level: int) -> None:
            if self.number == script["settings"].get("BUZZER_PIN"):
                board.rung.append([board.now_ms - board.began_ms, level])
            elif level == 0:
                board.selected.append(self)
            elif self in board.selected:
                board.selected.remove(self)

    class SPI:
        def __init__(self, bus: int) -> None:
            self.phase = -1

        def init(self, baudrate: int, polarity: int, phase: int) -> None:
            self.phase = phase

        def write(self, data: bytes) -> None:
            board.written.append([board.selected[0].number, self.phase, "".join([f"{byte:02X}" for byte in data])])

        def read(self, count: int) -> bytes:
            assert len(board.selected) == 1, "one chip is selected"
            queue = script["words"][str(board.selected[0].number)]
            word = queue.pop(0) if len(queue) > 1 else queue[0]
            return bytes([(word >> 8 * (count - 1 - i)) & 255 for i in range(count)])

    class ADC:
        ATTN_11DB = 3

        def __init__(self, pin: Pin, atten: int = 0) -> None:
            self.reads = 0
            self.atten = atten

        def read_uv(self) -> int:
            # The ESP32's, at its end at 1.1 V without attenuation and at 3.1 V with all of it.
            return min(self.read_u16() * 50, 3100000 if self.atten == self.ATTN_11DB else 1100000)

        def read_u16(self) -> int:
            self.reads += 1
            queue = script["adc"]
            # As many reads as one pack takes, then the next of the script.
            return int(queue[min((self.reads - 1) // 64, len(queue) - 1)])

    class WDT:
        def __init__(self, timeout: int) -> None:
            self.timeout = timeout
            self.fed_at = board.now_ms

        def feed(self) -> None:
            assert board.now_ms - self.fed_at < self.timeout, "the watchdog would have bitten"
            self.fed_at = board.now_ms
            board.fed += 1

    class Socket:
        def __init__(self) -> None:
            self.timeout_s = 0

        def settimeout(self, timeout_s: int) -> None:
            self.timeout_s = timeout_s

        def setblocking(self, on: bool) -> None:
            self.timeout_s = 0

        def connect(self, address: object) -> None:
            assert 0 < self.timeout_s < 8, "or the watchdog bites"
            if script["broker_away"] > 0:
                script["broker_away"] -= 1
                board.now_ms += 1000 * self.timeout_s
                raise OSError(110)
            if script.get("errno"):
                raise OSError(script["errno"])

        def close(self) -> None:
            board.closed += 1

    class Context:
        def __init__(self, protocol: int) -> None:
            self.verify_mode = 0

        def load_verify_locations(self, cadata: bytes) -> None:
            if not cadata:
                raise ValueError("invalid CA certificate")

        def wrap_socket(self, plain: Socket, server_hostname: str) -> Socket:
            assert self.verify_mode == 2 and 0 < plain.timeout_s < 8
            if not script.get("certificate", True):
                raise OSError(-9984, "MBEDTLS_ERR_X509_CERT_VERIFY_FAILED")
            board.sent.append(["tls", server_hostname, "", False, 0])
            return plain

    class Sealed:
        """A TLS socket, which takes no time limit itself."""

        def __init__(self, plain: Socket) -> None:
            self._plain = plain

        @property
        def timeout_s(self) -> int:
            return self._plain.timeout_s

        def setblocking(self, on: bool) -> None:
            self._plain.setblocking(on)

    def set_by_network() -> None:
        if not script.get("time_server", True):
            raise OSError(110)
        script["year"] = 2026

    class MQTTException(Exception):  # noqa: N818 - its own name
        pass

    class MQTTClient:
        def __init__(
            self,
            client_id: str,
            server: str,
            port: int,
            user: object,
            password: object,
            keepalive: int,
            ssl: object = None,
        ) -> None:
            assert keepalive > 0, "or the broker never tells the last will"
            self.sock = Socket()
            self.server, self.ssl = server, ssl
            self.callback: object = None
            self.listens = False

        def set_callback(self, callback: object) -> None:
            self.callback = callback

        def subscribe(self, topic: bytes, qos: int = 0) -> None:
            assert self.callback is not None, "a client without one fails at the first message"
            assert 0 < self.sock.timeout_s < 8, "or the watchdog bites"
            self.sock.setblocking(True)
            if "subscribe" in script["refused"]:
                raise MQTTException(128)
            self.listens = True
            board.sent.append(["subscribe", topic.decode(), "", False, qos])

        def check_msg(self) -> None:
            self.sock.setblocking(True)
            text = board.due(script["notices"]) if self.listens else None
            if text is not None:
                self.callback(b"kettleside/cooker/notice", text.encode())  # type: ignore[operator]
                assert 0 < self.sock.timeout_s < 8, "the receipt for it would wait for ever"
                self.sock.setblocking(True)

        def set_last_will(self, topic: bytes, message: bytes, retain: bool, qos: int) -> None:
            board.sent.append(["will", topic.decode(), message.decode(), retain, qos])

        def connect(self) -> None:
            assert board.closed > 0, "the knock is closed"
            if self.ssl is not None:
                self.sock = Sealed(self.ssl.wrap_socket(self.sock, server_hostname=self.server))  # type: ignore
            if "connect" in script["refused"]:
                script["refused"].remove("connect")
                raise MQTTException(5)

        def disconnect(self) -> None:
            board.sent.append(["disconnect", "", "", False, 0])

        def publish(self, topic: bytes, message: bytes, retain: bool = False, qos: int = 0) -> None:
            assert 0 < self.sock.timeout_s < 8, "or the watchdog bites"
            # A real client leaves its socket without a limit after each answer.
            self.sock.setblocking(True)
            board.sent.append(["publish", topic.decode(), message.decode(), retain, qos])

    class WLAN:
        def __init__(self, interface: int) -> None:
            pass

        def active(self, on: bool = True) -> bool:
            return True

        def isconnected(self) -> bool:
            return bool(script.get("wifi", "there") == "there")

        def connect(self, name: str, password: str) -> None:
            board.sent.append(["wifi", name, password, False, 0])

        def status(self) -> int:
            return {"there": 1010, "absent": 201, "wrong password": 202}[script.get("wifi", "there")]

        def ifconfig(self) -> tuple:  # type: ignore[type-arg]
            return ("192.0.2.7", "255.255.255.0", "192.0.2.254", "192.0.2.254")

    class Poll:
        def register(self, stream: object, flags: int) -> None:
            assert flags == 1

        def poll(self, timeout_ms: int) -> list:  # type: ignore[type-arg]
            assert timeout_ms == 0, "or the readings wait"
            text = board.due(script["heard"])
            if text is not None:
                board.heard += text.encode()
            return [1] if board.heard else []

    class Down:
        def read(self, count: int) -> bytes:
            assert board.heard, "this would wait for the monitor"
            data, board.heard = board.heard[:count], board.heard[count:]
            return data

    modules = {
        "machine": Names(Pin=Pin, SPI=SPI, ADC=ADC, WDT=WDT),
        "time": Names(
            sleep_ms=board.sleep_ms,
            gmtime=lambda: (script.get("year", 2026), 3, 14, 9, 0, 0, 5, 73),
            ticks_ms=board.ticks_ms,
            ticks_add=lambda at, count: (at + count) % 2**30,
            ticks_diff=lambda later, earlier: (later - earlier + 2**29) % 2**30 - 2**29,
        ),
        "socket": Names(socket=Socket, getaddrinfo=lambda host, port: [(0, 0, 0, "", (host, port))]),
        "network": Names(WLAN=WLAN, STA_IF=0, STAT_NO_AP_FOUND=201, STAT_WRONG_PASSWORD=202),
        "ntptime": Names(settime=set_by_network),
        "ssl": Names(SSLContext=Context, PROTOCOL_TLS_CLIENT=0, CERT_REQUIRED=2),
        "umqtt": Names(),
        "umqtt.simple": Names(MQTTClient=MQTTClient, MQTTException=MQTTException),
        "select": Names(poll=Poll, POLLIN=1),
    }
    for name in modules:
        sys.modules[name] = modules[name]  # type: ignore[assignment]
    if script["settings"]:
        with open("settings.py", "w") as file:  # noqa: PTH123 - MicroPython has no pathlib
            for name in script["settings"]:
                file.write(name + " = " + repr(script["settings"][name]) + "\n")
    for name in script.get("files", {}):
        with open(name, "w") as file:  # noqa: PTH123
            file.write(script["files"][name])
    names: dict = {"__name__": "rig"}  # type: ignore[type-arg]
    exec(script["rig"].replace("sys.platform", repr(script.get("platform", "rp2"))), names)
    # The board's own streams: what a test prints is read back, and nothing is typed at it.
    version = tuple(script.get("version", (1, 27, 0)))
    own = Names(version=version)
    names["sys"] = Names(stdout=sys.stdout, stdin=Names(buffer=Down()), implementation=own)
    if script.get("first_light"):
        sys.modules["rig"] = Names(**names)  # type: ignore[assignment]
        light: dict = {"__name__": "first_light"}  # type: ignore[type-arg]
        exec(script["first_light"], light)
        light["look"]()
    else:
        names["run"](script["packs"])
    seen = {"sent": board.sent, "fed": board.fed, "written": board.written, "rung": board.rung}
    print(json.dumps(seen))
