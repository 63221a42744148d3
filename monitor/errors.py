"""The one root that every error of this package derives from.

Each concrete class stands beside the code that raises it and carries its own fields.
"""


class MonitorError(Exception):
    """Something outside the program is wrong; the message is one sentence for a person."""
