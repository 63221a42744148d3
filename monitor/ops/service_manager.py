"""Telling systemd how the program is (sd_notify(3)): a datagram to the socket that the unit's environment names."""

import os
import socket
import sys
from collections.abc import MutableMapping
from contextlib import suppress

_ADDRESS, _WATCHDOG_USEC, _WATCHDOG_PID = "NOTIFY_SOCKET", "WATCHDOG_USEC", "WATCHDOG_PID"
# A third of what systemd allows, so that one that is late is no reason to end the program.
_SHARE = 3.0


class ServiceManager:
    """The service manager that started this process.

    address: its socket, a path or with "@" in front a name of its own (unix(7)); empty for none. watchdog_s: it ends
    the program when it has not been told for so long that it lives; None for never.
    """

    def __init__(self, address: str = "", watchdog_s: float | None = None) -> None:
        self._address = f"\0{address[1:]}" if address.startswith("@") else address
        self._alive_every_s = None if watchdog_s is None else watchdog_s / _SHARE
        self._alive_s: float | None = None
        self._is_ready = False
        self._status = ""

    @classmethod
    def of_environment(cls, environment: MutableMapping[str, str]) -> "ServiceManager":
        """The one that the environment names, whose variables are taken out: they are not for children."""
        address = environment.pop(_ADDRESS, "")
        usec, pid = environment.pop(_WATCHDOG_USEC, ""), environment.pop(_WATCHDOG_PID, "")
        is_ours = not pid or pid == str(os.getpid())
        watchdog_s = int(usec) / 1e6 if usec.isdecimal() and int(usec) and is_ours else None
        return cls(address if address.startswith(("/", "@")) else "", watchdog_s)

    def ready(self) -> None:
        """The program does its work; told once."""
        if not self._is_ready:
            self._is_ready = True
            self._tell("READY=1")

    def status(self, text: str) -> None:
        """One line on how it goes, which ``systemctl status`` shows; told where it has changed."""
        if text != self._status:
            self._status = text
            self._tell(f"STATUS={' '.join(text.splitlines())}")

    def alive(self, now_s: float) -> None:
        """The program lives; told as often as the watchdog wants it. now_s: real seconds."""
        if self._alive_every_s is None or (self._alive_s is not None and now_s - self._alive_s < self._alive_every_s):
            return
        self._alive_s = now_s
        self._tell("WATCHDOG=1")

    def stopping(self) -> None:
        """The program ends."""
        self._tell("STOPPING=1")

    def _tell(self, line: str) -> None:
        if not self._address or sys.platform == "win32":
            return
        # A manager that is busy or gone must not hold up the program; the next datagram tells it again.
        with suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sock:
            sock.setblocking(False)
            sock.sendto(line.encode(), self._address)
