"""A rig in MicroPython: thermocouple converters and a pH amplifier, sent once a second as SenML lines with a CRC.

A buzzer, if fitted, sounds the notices that the monitor sends over the cable or by MQTT: tasks due and faults.

Save this file on the board as rig.py, and what is otherwise than here in settings.py; first_light.py tells what is
wrong. A file main.py with "import rig" and "rig.run()" then has it run whenever the board gets power.
"""

import json
import sys
from time import sleep_ms, ticks_add, ticks_diff, ticks_ms

import machine

RIG = "cooker"
PERIOD_MS = 1000
# The board resets after it has hung for this long.
WATCHDOG_MS = 8000
# (channel, converter chip, pin of its chip select)
THERMOCOUPLES = (("paste", "MAX31855", 5),)
# The microcontroller's family, by which MicroPython calls its port: "esp32", or "rp2" for the RP2040 and RP2350.
ESP32 = sys.platform == "esp32"
SPI_BUS = 2 if ESP32 else 0
# True sends the converters' raw words, so that kettleside stores and decodes them.
SEND_WORDS = False
# None where there is no pH amplifier.
PH_PIN = 34 if ESP32 else 26
# The amplifier's output at pH 7 in V, and its gain; both are in its data sheet.
PH_MIDDLE_V = 1.65
PH_GAIN = 3.0
# The ESP32 reads volts by its own calibration, and truly between these with the attenuation of 11 dB that it is given
# here. Without attenuation its input is at its end at about 1 V (README, Analogue inputs).
ESP32_TRUE_V = (0.15, 2.45)
ADC_FULL_V = 3.3
PH_SAMPLES = 64
# The pin of an active buzzer, through a transistor where the buzzer takes more current than a pin may give;
# None without a buzzer, and then nothing from the monitor is read.
BUZZER_PIN = None
# None for serial only; else the broker's address and the Wi-Fi network.
BROKER = None
BROKER_PORT = 1883
# With the file of the authority's certificate (DER, on the board) the broker is spoken to over TLS, by custom at port
# 8883; BROKER is then a name that its certificate has.
BROKER_CA = None
BROKER_USER = None
BROKER_PASSWORD = None
WIFI_NAME = None
WIFI_PASSWORD = None
# The number of packs that wait while the broker is away; beyond it the oldest are dropped.
KEPT_PACKS = 120
# ANSWER_S: how long to wait for the broker, well below the watchdog. RETRY_MS: the time until the next attempt. Serial
# lines are late meanwhile, but none is lost.
ANSWER_S = 3
RETRY_MS = 10000

# MicroPython has no contextlib.
try:  # noqa: SIM105
    from settings import *  # noqa: F403
except ImportError:
    pass

OPEN = "open circuit"
FAULT_BITS = ((1, OPEN), (2, "short to ground"), (4, "short to supply"))
NO_ANSWER = "converter does not answer"
AT_LIMIT = "amplifier at its limit: is the probe plugged in?"

# Number and length (ms) of tones, with equal pauses; every subject that is not listed is a fault.
SOUNDS = {"stir due": (2, 150), "check due": (3, 150), "test": (1, 150)}
WRONG = (3, 600)
LONGEST_NOTICE = 200
STEP_MS = 20


def crc16(data):
    """CRC-16/IBM-3740; of b"123456789" it is 0x29B1."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte << 8
        for _ in range(8):
            crc = ((crc << 1) ^ 0x1021 if crc & 0x8000 else crc << 1) & 0xFFFF
    return crc


def record(name, unit, value, form="{:.4f}"):
    """One SenML record: a number, or words where the probe is at fault."""
    if isinstance(value, str):
        return f'{{"n":"{name}","u":"{unit}","vs":"{value}"}}'
    number = form.format(value)
    return f'{{"n":"{name}","u":"{unit}","v":{number}}}'


def line_of(pack):
    """The pack as a line for the serial port, with its CRC."""
    return f"{pack}*{crc16(pack.encode()):04X}\n"


def signed(field, bits):
    """A two's complement field as a number."""
    return field - (1 << bits) if field >> (bits - 1) else field


class Max31855:
    """The 32-bit word holds both temperatures and the fault bits."""

    bits = 32

    def __init__(self, spi, select):
        self.spi = spi
        self.select = select
        self.select.value(1)

    def word(self):
        """The raw word as an integer."""
        self.spi.init(baudrate=1_000_000, polarity=0, phase=0)
        self.select.value(0)
        try:
            return int.from_bytes(self.spi.read(self.bits // 8), "big")
        finally:
            self.select.value(1)

    def read(self):
        """Tip and cold junction in degC; a fault as text, and None where the chip does not send a cold junction."""
        word = self.word()
        if word in (0, 0xFFFFFFFF):
            return NO_ANSWER, None
        cold_c = signed((word >> 4) & 0xFFF, 12) / 16
        for bit, words in FAULT_BITS:
            if word & bit:
                return words, cold_c
        return signed(word >> 18, 14) / 4, cold_c


class Max6675(Max31855):
    """16 bits, no cold junction, no reading below 0 degC."""

    bits = 16

    def read(self):
        word = self.word()
        if word in (0, 0xFFFF):
            return NO_ANSWER, None
        return (OPEN if word & 4 else (word >> 3) / 4), None


class Max31856(Max31855):
    """Linearises in the chip. The word is registers 0C to 0F: three bytes of temperature, one of faults."""

    def __init__(self, spi, select):
        super().__init__(spi, select)
        # CR0: automatic conversion, open-circuit detection. CR1: type K, no averaging.
        self.transfer(b"\x80\x90\x03", 0)

    def transfer(self, out, count):
        """Writes ``out``, then reads ``count`` bytes."""
        self.spi.init(baudrate=1_000_000, polarity=0, phase=1)
        self.select.value(0)
        try:
            self.spi.write(out)
            return self.spi.read(count) if count else b""
        finally:
            self.select.value(1)

    def word(self):
        return int.from_bytes(self.transfer(b"\x0c", 4), "big")

    def read(self):
        word = self.word()
        if word in (0, 0xFFFFFFFF):
            return NO_ANSWER, None
        if word & 1:
            return OPEN, None
        if word & 2:
            return "voltage out of bounds", None
        return signed(word >> 13, 19) / 128, None


CHIPS = {"MAX31855": Max31855, "MAX31856": Max31856, "MAX6675": Max6675}


def ph_input():
    """The analogue input of the pH amplifier, or None."""
    if PH_PIN is None:
        return None
    pin = machine.Pin(PH_PIN)
    return machine.ADC(pin, atten=machine.ADC.ATTN_11DB) if ESP32 else machine.ADC(pin)


def ph_volts(adc):
    """The electrode's voltage, V, without the amplifier's offset and gain; text where the amplifier is at its limit."""
    total = 0
    if ESP32:
        for _ in range(PH_SAMPLES):
            total += adc.read_uv()
        volts = total / PH_SAMPLES / 1000000
        return (volts - PH_MIDDLE_V) / PH_GAIN if ESP32_TRUE_V[0] < volts < ESP32_TRUE_V[1] else AT_LIMIT
    for _ in range(PH_SAMPLES):
        total += adc.read_u16()
    share = total / PH_SAMPLES / 65535
    if not 0.01 < share < 0.99:
        return AT_LIMIT
    return (share * ADC_FULL_V - PH_MIDDLE_V) / PH_GAIN


class Rig:
    """The probes of the board."""

    def __init__(self):
        spi = machine.SPI(SPI_BUS)
        self.probes = [
            (channel, chip, CHIPS[chip](spi, machine.Pin(pin, machine.Pin.OUT))) for channel, chip, pin in THERMOCOUPLES
        ]
        self.adc = ph_input()
        self.seq = 0

    def records(self):
        """One record for each channel, and the pack counter."""
        records = []
        for channel, chip, probe in self.probes:
            if SEND_WORDS:
                records.append(record(chip.lower() + "/" + channel, "count", probe.word(), "{}"))
                continue
            value, cold_c = probe.read()
            records.append(record(channel, "Cel", value, "{:.2f}"))
            if cold_c is not None:
                records.append(record(channel + "/cold", "Cel", cold_c))
        if self.adc is not None:
            records.append(record("ph", "V", ph_volts(self.adc), "{:.5f}"))
        records.append(record("seq", "count", self.seq, "{}"))
        self.seq += 1
        return records


def notice_of(line):
    """The subject of a notice, or None where the line is no notice."""
    try:
        name = json.loads(line)["notice"]
    except (ValueError, KeyError, TypeError):
        return None
    return name if isinstance(name, str) else None


class Buzzer:
    """Sounds one pattern at a time in short steps, so that nothing waits for it."""

    def __init__(self):
        self.pin = machine.Pin(BUZZER_PIN, machine.Pin.OUT)
        self.pin.value(0)
        self.turns = 0
        self.length_ms = 0
        self.turn_at = 0

    def ring(self, line):
        """Begins the pattern for this notice; it replaces an earlier one."""
        name = notice_of(line)
        if name is not None:
            count, self.length_ms = SOUNDS.get(name, WRONG)
            self.turns = 2 * count
            self.turn_at = ticks_ms()

    def step(self):
        """Turns the buzzer on or off when that is due."""
        if self.turns and ticks_diff(ticks_ms(), self.turn_at) >= 0:
            self.turns -= 1
            self.pin.value(self.turns % 2)
            self.turn_at = ticks_add(ticks_ms(), self.length_ms)


class Ear:
    """The lines received on the cable, read without waiting."""

    def __init__(self):
        import select

        self.poll = select.poll()
        self.poll.register(sys.stdin, select.POLLIN)
        self.line = b""

    def heard(self):
        """A complete line, or None. At most LONGEST_NOTICE bytes are read, so that a flood does not block."""
        for _ in range(LONGEST_NOTICE):
            byte = sys.stdin.buffer.read(1) if self.poll.poll(0) else None
            if not byte:
                return None
            if byte == b"\n":
                line, self.line = self.line, b""
                return line
            # The start of an overlong line is kept; it is no valid JSON.
            if len(self.line) < LONGEST_NOTICE:
                self.line += byte
        return None


class Tls:
    """Wraps the client's socket. It keeps the plain one, which alone takes a time limit."""

    def __init__(self):
        import ssl

        # Clients of before took no context, and would have asked for no certificate.
        if sys.implementation.version < (1, 23):
            raise ValueError("TLS takes MicroPython 1.23 or later")
        self.plain = None
        self.context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        self.context.verify_mode = ssl.CERT_REQUIRED
        with open(BROKER_CA, "rb") as file:  # noqa: PTH123 - MicroPython has no pathlib
            self.context.load_verify_locations(cadata=file.read())

    def wrap_socket(self, plain, server_hostname=None):
        """What the client calls once it has a connection."""
        plain.settimeout(ANSWER_S)
        self.plain = plain
        return self.context.wrap_socket(plain, server_hostname=server_hostname)


def set_clock():
    """Sets the clock from the network where it was never set: certificates have dates. Raises OSError."""
    import time

    if time.gmtime()[0] < 2024:
        import ntptime

        ntptime.settime()


class Radio:
    """A broker over Wi-Fi. Packs that cannot be sent wait, and are sent later with their age."""

    def __init__(self, buzzer):
        from umqtt.simple import MQTTClient, MQTTException

        self.make = MQTTClient
        self.refusal = MQTTException
        self.buzzer = buzzer
        self.tls = None
        self.client = None
        self.waiting = []
        self.retry_at = ticks_ms()

    def add(self, records):
        """Queues a pack and sends as many as possible."""
        self.waiting.append((ticks_ms(), records))
        del self.waiting[:-KEPT_PACKS]
        if self.client is None and ticks_diff(ticks_ms(), self.retry_at) < 0:
            return
        try:
            if self.client is None:
                self.client = self.connect()
            while self.client is not None and self.waiting:
                taken, records = self.waiting[0]
                age_s = ticks_diff(ticks_ms(), taken) / 1000
                pack = f'[{{"bt":{-age_s:.3f},' + records[0][1:] + "," + ",".join(records[1:]) + "]"
                self.limit(self.client)
                self.client.publish(topic("readings"), pack.encode(), qos=1)
                self.waiting.pop(0)
            if self.client is not None and self.buzzer is not None:
                # Checked once per pack and while waiting for a receipt; the watchdog ends a message cut off midway.
                self.client.check_msg()
        # IndexError: the client indexes four bytes of an answer that may be shorter. ValueError: a bad certificate.
        except (OSError, IndexError, ValueError, self.refusal):
            self.client = None
            self.retry_at = ticks_add(ticks_ms(), RETRY_MS)

    def limit(self, client):
        """Limits the next answer of the broker: the client takes the limit off its socket with each."""
        (client.sock if self.tls is None else self.tls.plain).settimeout(ANSWER_S)

    def connect(self):
        """A connected client, or None while there is no Wi-Fi yet."""
        found = station()
        if not found.isconnected():
            found.connect(WIFI_NAME, WIFI_PASSWORD)
            self.retry_at = ticks_add(ticks_ms(), RETRY_MS)
            return None
        knock()
        more = {}
        if BROKER_CA is not None:
            set_clock()
            self.tls = self.tls or Tls()
            more = {"ssl": self.tls}
        client = self.make(
            RIG, BROKER, port=BROKER_PORT, user=BROKER_USER, password=BROKER_PASSWORD, keepalive=30, **more
        )
        client.set_last_will(topic("status"), b"offline", retain=True, qos=1)
        client.connect()
        self.limit(client)
        client.publish(topic("status"), b"online", retain=True, qos=1)
        if self.buzzer is not None:

            def hear(_topic, line):
                # The client has just removed the timeout from its socket.
                self.limit(client)
                self.buzzer.ring(line)

            client.set_callback(hear)
            self.limit(client)
            # A broker that forbids subscriptions still takes the readings.
            try:  # noqa: SIM105
                client.subscribe(topic("notice"), qos=1)
            except self.refusal:
                pass
        return client


def station():
    """The board's Wi-Fi, switched on."""
    import network

    found = network.WLAN(network.STA_IF)
    if not found.active():
        found.active(True)
    return found


def knock():
    """Raises OSError where nobody answers: the client's own connect would wait for longer than the watchdog does."""
    import socket

    tried = socket.socket()
    try:
        tried.settimeout(ANSWER_S)
        tried.connect(socket.getaddrinfo(BROKER, BROKER_PORT)[0][-1])
    finally:
        tried.close()


def topic(level):
    """The MQTT topic of this rig."""
    return f"kettleside/{RIG}/{level}".encode()


def rest(due, buzzer, ear):
    """Waits until the next pack is due and serves the buzzer, if fitted, meanwhile."""
    while True:
        if buzzer is not None:
            line = ear.heard()
            if line is not None:
                buzzer.ring(line)
            buzzer.step()
        left_ms = ticks_diff(due, ticks_ms())
        if left_ms <= 0:
            return
        sleep_ms(left_ms if buzzer is None else min(left_ms, STEP_MS))


def run(packs=None):
    """Samples without end, or for ``packs`` packs."""
    watchdog = machine.WDT(timeout=WATCHDOG_MS)
    rig = Rig()
    buzzer = None if BUZZER_PIN is None else Buzzer()
    ear = None if buzzer is None else Ear()
    radio = None if BROKER is None else Radio(buzzer)
    due = ticks_ms()
    while packs is None or rig.seq < packs:
        records = rig.records()
        sys.stdout.write(line_of("[" + ",".join(records) + "]"))
        if radio is not None:
            radio.add(records)
        watchdog.feed()
        due = ticks_add(due, PERIOD_MS)
        if ticks_diff(due, ticks_ms()) < 0:
            # After a delay by a slow network the schedule restarts, rather than catching up in a burst.
            due = ticks_ms()
        rest(due, buzzer, ear)


if __name__ == "__main__":
    run()
