"""The rig's own buzzer, at the other end of the cable that its readings come by.

The logger only logs, so the notifier writes the line, through the same port opened a second time. On Linux that
leaves the port's modes as they are, and closing it changes nothing while the logger has it open. Opening a port that
nobody has open may reset a board; so the buzzer is rung only while the logger holds the port and readings arrive there.
"""

import os
import sys
from pathlib import Path
from threading import Event

from monitor.model import QUIET
from monitor.notifications.channels.channel import Message, SendError
from monitor.notifications.store import logger_port
from monitor.runtime import drop_unsent, is_locked, unsent_bytes

# While these are active nothing comes up the cable, so it may be cut.
_NOT_BY_CABLE = (QUIET, "no data")
_SENT_WITHIN_S = 2.0
_POLL_EVERY_S = 0.01


def reaches_rig_by_cable(name: str, source: str) -> bool:
    """Whether a notice of this name can reach a rig by its cable. source: the address of the rig's source.

    The source must be a serial port of this machine, because one on the network cannot be opened twice.

    >>> reaches_rig_by_cable("stir due", "serial://auto"), reaches_rig_by_cable("stir due", "serial+rfc2217://host:4000")
    (True, False)
    >>> reaches_rig_by_cable("no data", "serial://auto")
    False
    """
    return source.partition(":")[0] in ("serial", "rig") and name not in _NOT_BY_CABLE


class BuzzerChannel:
    """Sends one line of JSON down the cable of a rig, for its buzzer or display."""

    def __init__(self, folder: Path, rig: str) -> None:
        self.name = f"The cable to the rig {rig}"
        self._folder = folder
        self._rig = rig
        # Ends a line of which the rig may have had half.
        self._prefix = b""

    def send(self, message: Message) -> None:
        """Sends the line within 2 s. Raises SendError."""
        if sys.platform == "win32":
            raise SendError("this system opens a port only once")
        port = logger_port(self._folder, self._rig)
        if port is None:
            raise SendError("no readings arrive by it now")
        try:
            number = os.open(port, os.O_WRONLY | os.O_NOCTTY | os.O_NONBLOCK)
        except OSError as error:
            raise SendError(f"{port} cannot be opened ({error.strerror or 'unknown'})") from None
        try:
            if not os.isatty(number) or not is_locked(number):
                raise SendError(f"the logger does not hold {port} now")
            self._write(number, message.notice.as_json().encode() + b"\n")
        finally:
            os.close(number)

    def close(self) -> None:
        """Nothing to do: what is on its way takes 2 s at most."""

    def _write(self, number: int, line: bytes) -> None:
        line = self._prefix + line
        self._prefix = b"\n"
        try:
            sent = os.write(number, line)
        except BlockingIOError:
            sent = 0
        except OSError as error:
            raise SendError(f"the port fails ({error.strerror or 'unknown'})") from None
        for _ in range(round(_SENT_WITHIN_S / _POLL_EVERY_S)):
            if sent < len(line) or not unsent_bytes(number):
                break
            Event().wait(_POLL_EVERY_S)
        if sent < len(line) or unsent_bytes(number):
            # Bytes that nobody takes would hold up the logger when it closes the port (tty_ioctl(4), closing_wait).
            drop_unsent(number)
            raise SendError("the rig does not read it; if it has no buzzer, set rig_buzzer = false")
        self._prefix = b""
