"""One open serial port, or what pyserial's URL handlers make look like one."""

import errno
import os
import select
import sys
from collections.abc import Sequence
from contextlib import suppress
from threading import Event

import serial

from monitor.protocol import LineItem, PayloadLayout
from monitor.runtime import Clock, MonitorError
from monitor.sources.line_reader import LineReader
from monitor.sources.tcp import keep_alive

READ_AT_ONCE = 65536
# For ports that select cannot wait for (the rfc2217 handler reads in a thread of its own).
READ_TIMEOUT_S = 0.05

_REASONS = {
    errno.ENOENT: "is not there; look at the cable",
    errno.ENODEV: "is not there; look at the cable",
    errno.ENXIO: "is not there; look at the cable",
    errno.EACCES: "may not be opened; add yourself to its group (dialout on Debian) and log in again",
    errno.EPERM: "may not be opened; add yourself to its group (dialout on Debian) and log in again",
    errno.EBUSY: "is held by another program",
    errno.EWOULDBLOCK: "is held by another program",
    errno.ENOTTY: "is no serial port",
    errno.EINVAL: "is no serial port, or does not know this baud rate",
    errno.EISDIR: "is no serial port",
    errno.EMFILE: "cannot be opened, because this process has too many files open",
    errno.ENFILE: "cannot be opened, because the system has too many files open",
    errno.ECONNREFUSED: "refuses the connection",
    errno.EIO: "was closed at its other end",
}


class PortError(MonitorError):
    """A port that does not work. name: its path or URL; why: what is wrong, as the rest of a sentence."""

    def __init__(self, name: str, why: str) -> None:
        self.name = name
        self.why = why
        super().__init__(f"The port {name} {why}.")


def _port_error(name: str, error: Exception) -> PortError:
    number = error.errno if isinstance(error, OSError) else None
    cause = error.__context__
    if number is None and isinstance(cause, OSError):
        number = cause.errno
    # Termios has an error of its own, with the number as its first argument.
    if number is None and cause is not None and cause.args and isinstance(cause.args[0], int):
        number = cause.args[0]
    if number in _REASONS:
        return PortError(name, _REASONS[number])
    if "returned no data" in str(error) or "disconnected" in str(error):
        return PortError(name, "was closed at its other end")
    return PortError(name, f"failed ({os.strerror(number) if number else str(error).rstrip('.')})")


class SerialPort:
    """An open port, and the line of which a part has come. Raises PortError when it cannot be opened or read."""

    def __init__(self, name: str, baud: int, clock: Clock, layout: PayloadLayout | None) -> None:
        self.name = name
        self._clock = clock
        self._reader = LineReader(layout)
        remote = "://" in name
        try:
            self._port = serial.serial_for_url(name, do_not_open=True)
            self._port.baudrate = baud
            self._port.timeout = 0.0
            if not remote:
                # Two readers would each get half of the bytes.
                self._port.exclusive = True
            self._port.open()
        except (OSError, ValueError, serial.SerialException) as error:
            raise _port_error(name, error) from None
        except Exception as error:
            # On POSIX pyserial lets termios.error through, which derives from nothing narrower.
            if type(error).__module__ != "termios":
                raise
            raise PortError(name, _REASONS.get(error.args[0] if error.args else 0, "is no serial port")) from None
        self._fileno = self._find_fileno()
        if self._fileno is not None:
            (keep_alive if remote else _keep_dtr_on_close)(self._fileno)

    def _find_fileno(self) -> int | None:
        try:
            return int(self._port.fileno())
        except (AttributeError, OSError, ValueError):
            self._port.timeout = READ_TIMEOUT_S
            return None

    def fileno(self) -> int | None:
        """The descriptor that select can wait for, or None."""
        return self._fileno

    def read(self) -> list[LineItem]:
        """Packs and bad lines in what has come by now."""
        return self._reader.feed(self.read_bytes(), self._clock.now(), self._clock.real_s())

    def set_baud(self, baud: int) -> None:
        """Changes the speed of the open port. Raises PortError."""
        try:
            self._port.baudrate = baud
        except (OSError, ValueError, serial.SerialException) as error:
            raise _port_error(self.name, error) from None

    def read_bytes(self) -> bytes:
        """What has come by now. Raises PortError."""
        try:
            if self._fileno is None:
                data = self._port.read(1)
                data += self._port.read(self._port.in_waiting) if data else b""
            else:
                data = self._port.read(READ_AT_ONCE)
        except (OSError, serial.SerialException) as error:
            raise _port_error(self.name, error) from None
        return bytes(data)

    def cut_stalled(self) -> list[LineItem]:
        """A line of which no byte has come for 2 s, as a bad line."""
        return self._reader.cut_stalled(self._clock.now(), self._clock.real_s())

    def close(self) -> list[LineItem]:
        """Closes the port; returns the line of which only a part had come, as a bad line."""
        with suppress(OSError, serial.SerialException):
            self._port.close()
        return self._reader.cut(self._clock.now())


def wait_readable(ports: Sequence[SerialPort], timeout_s: float) -> list[SerialPort]:
    """The ports that have something to read, after at most this many real seconds."""
    unselectable = [port for port in ports if port.fileno() is None]
    descriptors = [descriptor for port in ports if (descriptor := port.fileno()) is not None]
    wait_s = 0.0 if unselectable else max(0.0, timeout_s)
    if not descriptors:
        # Windows refuses to wait for nothing.
        Event().wait(wait_s)
        return unselectable
    ready, _, _ = select.select(descriptors, [], [], wait_s)
    return unselectable + [port for port in ports if port.fileno() in ready]


def _keep_dtr_on_close(fileno: int) -> None:
    """Leaves DTR as it is when the port is closed, so that a restart of the logger does not reset the board."""
    if sys.platform == "win32":
        return
    import termios

    with suppress(termios.error, OSError):
        modes = termios.tcgetattr(fileno)
        modes[2] &= ~termios.HUPCL
        termios.tcsetattr(fileno, termios.TCSANOW, modes)
