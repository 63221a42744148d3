"""What the system knows of an open terminal or serial port."""

import fcntl
import struct
import termios


def unsent_bytes(descriptor: int) -> int:
    """How many bytes written to a terminal have not left this machine yet (tty_ioctl(4), TIOCOUTQ).

    0 where the terminal cannot tell.
    """
    try:
        return int(struct.unpack("i", fcntl.ioctl(descriptor, termios.TIOCOUTQ, b"\0" * 4))[0])
    except OSError:
        return 0
