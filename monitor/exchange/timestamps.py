"""Times in a data package: RFC 3339 in UTC to seven decimals.

That tells any two moments apart that a 64-bit float of today's Unix seconds can.
"""

import math
import re
from datetime import UTC, datetime
from decimal import Decimal

# The columns of a package's tables that hold times.
TIMES = frozenset({"time", "known", "withdrawn"})
_RFC3339 = re.compile(r"(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d)(\.\d+)?(Z|[+-]\d\d:\d\d)\Z")


def rfc3339(moment: float) -> str:
    """Unix seconds as RFC 3339 in UTC.

    >>> rfc3339(1773484800.25)
    '2026-03-14T10:40:00.2500000Z'
    """
    whole = math.floor(moment)
    fraction = f"{Decimal(moment) - whole:.7f}"
    if fraction.startswith("1"):
        whole, fraction = whole + 1, "0.0000000"
    return datetime.fromtimestamp(whole, UTC).strftime("%Y-%m-%dT%H:%M:%S") + fraction[1:] + "Z"


def from_rfc3339(text: str) -> float:
    """Unix seconds of an RFC 3339 moment. Raises ValueError.

    >>> from_rfc3339("2026-03-14T11:40:00.25+01:00")
    1773484800.25
    """
    match = _RFC3339.match(text.strip())
    if match is None:
        raise ValueError(f"time is {text[:40]!r}; it must be RFC 3339 such as 2026-03-14T10:40:00Z")
    whole = datetime.fromisoformat(match.group(1) + match.group(3).replace("Z", "+00:00")).timestamp()
    return float(Decimal(int(whole)) + Decimal(match.group(2) or 0))
