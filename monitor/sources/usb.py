"""What tells one USB serial port from any other."""

from dataclasses import dataclass
from pathlib import Path

from serial.tools.list_ports import comports


@dataclass(frozen=True, slots=True)
class UsbPort:
    """A USB serial port. vendor, product: four hex digits, as udev has them. serial: the maker's number, or None.

    place: the socket it is plugged into, as the kernel names it ("1-1.2").
    """

    device: str
    vendor: str
    product: str
    serial: str | None
    place: str | None


def usb_port(device: str) -> UsbPort | None:
    """What the port at this path is, links followed; None where it is not plugged in or not USB."""
    real = str(Path(device).resolve())
    for port in comports():
        if port.device == real and port.vid is not None and port.pid is not None:
            place = str(port.location).partition(":")[0] if port.location else None
            return UsbPort(real, f"{port.vid:04x}", f"{port.pid:04x}", port.serial_number or None, place)
    return None
