"""The one root that every error of this package derives from.

Each concrete class stands beside the code that raises it and carries its own fields.
"""

from typing import ClassVar


class MonitorError(Exception):
    """Something outside the program is wrong; the message is one sentence for a person.

    exit_status: what a command ends with: 1 failed, 2 wrong usage.
    """

    exit_status: ClassVar[int] = 1
