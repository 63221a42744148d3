"""Which names this server answers to, so that no other site's name can be led to it (DNS rebinding)."""

import ipaddress
import re
import socket
from collections.abc import Iterable

# Endings that nobody can register: RFC 6762, RFC 8375, the top level that ICANN keeps for private use (2024), and the
# one that home routers took on their own.
HOME_ENDINGS = ("local", "home.arpa", "internal", "lan")
MOST_REMEMBERED = 64
_AUTHORITY = re.compile(r"(\[[0-9A-Fa-f:.]{2,45}\]|[A-Za-z0-9._-]{1,253})(?::\d{0,5})?\Z")


class Hosts:
    """The names that a request may call this server by: numbers, localhost, the machine's own, and those given."""

    def __init__(self, given: Iterable[str] = (), machine: str | None = None) -> None:
        own = (socket.gethostname() if machine is None else machine).lower().rstrip(".")
        first = own.partition(".")[0]
        self._names = {"localhost", own, first, *(f"{first}.{ending}" for ending in HOME_ENDINGS)}
        self._names |= {name.lower().rstrip(".") for name in given}
        self._names.discard("")
        self._good: set[str] = set()

    def has(self, authority: str) -> bool:
        """Whether a Host header names this server.

        >>> hosts = Hosts(["soap.example"], machine="kitchen")
        >>> [hosts.has(name) for name in ("192.0.2.7:8050", "[2001:db8::7]", "kitchen.local:80", "soap.example")]
        [True, True, True, True]
        >>> [hosts.has(name) for name in ("elsewhere.example", "kitchen.example", "", "a@localhost", "localhost:x")]
        [False, False, False, False, False]
        """
        if authority in self._good:
            return True
        found = _AUTHORITY.match(authority)
        if found is None:
            return False
        name = found.group(1).lower()
        good = name.rstrip(".") in self._names or _is_number(name)
        if good and len(self._good) < MOST_REMEMBERED:
            self._good.add(authority)
        return good

    def names(self) -> tuple[str, ...]:
        """The names, without the numbers, in alphabetical order."""
        return tuple(sorted(self._names))


def _is_number(name: str) -> bool:
    try:
        ipaddress.ip_address(name.removeprefix("[").removesuffix("]"))
    except ValueError:
        return False
    # A name of colons alone stands in brackets, RFC 3986 section 3.2.2.
    return (":" in name) == name.startswith("[")
