"""What the system knows of an open terminal or serial port."""

import struct
import sys
from contextlib import suppress

if sys.platform == "win32":

    def unsent_bytes(_descriptor: int) -> int:
        """0, because there it cannot be asked."""
        return 0

    def drop_unsent(_descriptor: int) -> None:
        """Does nothing."""

else:
    import fcntl
    import termios

    def unsent_bytes(descriptor: int) -> int:
        """How many bytes written to a terminal have not left this machine yet (tty_ioctl(4), TIOCOUTQ).

        0 where the terminal cannot tell.
        """
        try:
            return int(struct.unpack("i", fcntl.ioctl(descriptor, termios.TIOCOUTQ, b"\0" * 4))[0])
        except OSError:
            return 0

    def drop_unsent(descriptor: int) -> None:
        """Has a terminal forget what has not left this machine yet."""
        with suppress(termios.error, OSError):
            termios.tcflush(descriptor, termios.TCOFLUSH)
