"""First light: tries what rig.py and settings.py say is wired and set, and prints what is wrong and what to do.

On the board, before main.py is there: ``import first_light`` and ``first_light.look()``. It needs rig.py beside it. The
probes hang in the air of the room and the pH probe in a buffer or its storage solution.
"""

from time import sleep_ms

import rig

WIFI_WAIT_MS = 15000
STEP_MS = 250
# In the air a tip and its converter are about equally warm.
APART_C = 10
ADVICE = {
    rig.OPEN: "look at the plug and the screws of the converter; a broken tip reads so too",
    "short to ground": "the sheath touches the wires: take a thermocouple with an insulated junction",
    "short to supply": "a wire of the thermocouple touches the supply: look at the screws",
    "voltage out of bounds": "look at the screws; nothing else may be wired to the terminals",
    rig.NO_ANSWER: "look at supply, ground, clock, data and chip select, and at SPI_BUS and THERMOCOUPLES",
}
# Errors of a connection, by their numbers on the ports of MicroPython.
REFUSED, UNREACHABLE = (104, 111), (101, 113, 118)


class Look:
    """Prints each finding, and counts those that are wrong."""

    def __init__(self):
        self.wrong = 0

    def well(self, what, words):
        print("ok     " + what + ": " + words)

    def bad(self, what, words, advice):
        self.wrong += 1
        print("WRONG  " + what + ": " + words + "; " + advice)


def look():
    """Tries everything in turn, and returns how much is wrong."""
    seen = Look()
    probes(seen)
    ph(seen)
    if rig.BROKER is None:
        seen.well("broker", "none is set, so packs go down the cable alone")
    elif wifi(seen) and clock(seen):
        broker(seen)
    print("All is well." if not seen.wrong else str(seen.wrong) + " wrong. Mend the first one first, and look again.")
    return seen.wrong


def probes(seen):
    """Each thermocouple, in the air."""
    for channel, chip, probe in rig.Rig().probes:
        what = channel + " (" + chip + ")"
        value, cold_c = probe.read()
        if isinstance(value, str):
            seen.bad(what, value, ADVICE[value])
        elif cold_c is not None and abs(value - cold_c) > APART_C:
            words = f"the tip reads {value:.1f} and its converter {cold_c:.1f} degC"
            seen.bad(what, words, "in the air they are alike: swapped wires, another type, or a warm converter")
        else:
            seen.well(what, f"{value:.1f} degC; warm it in your hand, and it has to rise")


def ph(seen):
    """The pH amplifier."""
    adc = rig.ph_input()
    if adc is None:
        return seen.well("ph", "none is set")
    volts = rig.ph_volts(adc)
    if isinstance(volts, str):
        advice = "look at PH_PIN, the plug and the isolated supply; its output must stay within the input's range"
        return seen.bad("ph", "the input is at its end", advice)
    return seen.well("ph", f"{volts:.4f} V at the electrode, near pH {7 - volts / 0.0592:.1f} before calibration")


def wifi(seen):
    """Whether the network lets the board in."""
    import network

    station = rig.station()
    if not station.isconnected():
        station.connect(rig.WIFI_NAME, rig.WIFI_PASSWORD)
    for _ in range(WIFI_WAIT_MS // STEP_MS):
        if station.isconnected():
            seen.well("Wi-Fi", "connected as " + station.ifconfig()[0])
            return True
        sleep_ms(STEP_MS)
    status = station.status()
    if status == getattr(network, "STAT_NO_AP_FOUND", None):
        seen.bad("Wi-Fi", "no network has this name", "look at WIFI_NAME; the network must be one of 2.4 GHz, and near")
    elif status == getattr(network, "STAT_WRONG_PASSWORD", None):
        seen.bad("Wi-Fi", "it refuses the password", "look at WIFI_PASSWORD")
    else:
        seen.bad(
            "Wi-Fi", f"no connection after 15 s (status {status})", "look at the name, the password and the distance"
        )
    return False


def clock(seen):
    """The authority's certificate, and the clock that certificates need."""
    if rig.BROKER_CA is None:
        return True
    try:
        open(rig.BROKER_CA).close()  # noqa: PTH123 - MicroPython has no pathlib
    except OSError:
        seen.bad("TLS", "there is no file " + rig.BROKER_CA + " on the board", "save the authority's certificate there")
        return False
    try:
        rig.set_clock()
    except OSError:
        seen.bad(
            "clock", "no time server answers", "let the board reach one: a certificate has dates (NTP, UDP port 123)"
        )
        return False
    seen.well("clock", "set")
    return True


def broker(seen):
    """Whether the broker takes the board."""
    place = f"{rig.BROKER}:{rig.BROKER_PORT}"
    try:
        rig.knock()
    except OSError as error:
        return seen.bad("broker", "nobody answers at " + place, unanswered(error.args[0]))
    radio = rig.Radio(None)
    try:
        client = radio.connect()
        radio.limit(client)
        client.publish(rig.topic("status"), b"offline", retain=True, qos=1)
        client.disconnect()
    except radio.refusal as error:
        words = f"it answers with code {error.args[0]}"
        return seen.bad("broker", words, "look at BROKER_USER, BROKER_PASSWORD and the access list (5: not allowed)")
    except (OSError, ValueError, IndexError) as error:
        if rig.BROKER_CA is None:
            return seen.bad("broker", "it breaks off", "is it a port for TLS? Then set BROKER_CA")
        advice = "is " + rig.BROKER_CA + " its authority in DER, and BROKER a name that its certificate has?"
        return seen.bad("TLS", f"no safe connection ({error.args[-1]})", advice)
    return seen.well("broker", place + (" takes it" if rig.BROKER_CA is None else " takes it over TLS"))


def unanswered(number):
    """What to do about an error of a connection."""
    if number in REFUSED:
        return "the machine is there: is the broker running, for the network and not for its own machine alone?"
    if number in UNREACHABLE:
        return "no way leads there: are both on one network?"
    return "look at BROKER and BROKER_PORT, and at the firewall"


if __name__ == "__main__":
    look()
