"""Which host names this server answers to, against DNS rebinding: another site's name that resolves to this machine."""

import ipaddress
import re
import socket
from collections.abc import Iterable

# Endings that nobody can register: local (RFC 6762), home.arpa (RFC 8375), internal (reserved by ICANN for private
# use, 2024), and lan, which home routers use without any standard.
HOME_ENDINGS = ("local", "home.arpa", "internal", "lan")
ALL_INTERFACES = ("", "0.0.0.0", "::")
# From the block reserved for documentation (RFC 5737). To connect a UDP socket to it sends nothing; it only has the
# system choose the interface.
_TEST_NET_ADDRESS = ("192.0.2.1", 9)
MAX_CACHED = 64
_AUTHORITY = re.compile(r"(\[[0-9A-Fa-f:.]{2,45}\]|[A-Za-z0-9._-]{1,253})(?::\d{0,5})?\Z")


class AllowedHosts:
    """The host names a request may be sent to: IP addresses, localhost, the machine's own names, and the given ones."""

    def __init__(self, given: Iterable[str] = (), machine: str | None = None) -> None:
        own = (socket.gethostname() if machine is None else machine).lower().rstrip(".")
        first = own.partition(".")[0]
        self._names = {"localhost", own, first, *(f"{first}.{ending}" for ending in HOME_ENDINGS)}
        self._names |= {name.lower().rstrip(".") for name in given}
        self._names.discard("")
        self._cache: set[str] = set()

    def add(self, name: str) -> None:
        """Answers to one more name.

        >>> hosts = AllowedHosts(machine="kitchen")
        >>> hosts.add("kettleside-2.local")
        >>> hosts.allows("kettleside-2.local:8050"), hosts.allows("kettleside-3.local")
        (True, False)
        """
        self._names.add(name.lower().rstrip("."))

    def allows(self, authority: str) -> bool:
        """Whether a Host header names this server.

        >>> hosts = AllowedHosts(["soap.example"], machine="kitchen")
        >>> [hosts.allows(name) for name in ("192.0.2.7:8050", "[2001:db8::7]", "kitchen.local:80", "soap.example")]
        [True, True, True, True]
        >>> [hosts.allows(name) for name in ("elsewhere.example", "kitchen.example", "", "a@localhost", "localhost:x")]
        [False, False, False, False, False]
        """
        if authority in self._cache:
            return True
        found = _AUTHORITY.match(authority)
        if found is None:
            return False
        name = found.group(1).lower()
        good = name.rstrip(".") in self._names or _is_ip_address(name)
        if good and len(self._cache) < MAX_CACHED:
            self._cache.add(authority)
        return good

    def names(self) -> tuple[str, ...]:
        """The names, without the IP addresses, in alphabetical order."""
        return tuple(sorted(self._names))

    def certificate_names(self, host: str) -> list[str]:
        """The names and IP addresses that a certificate is made for. host: the address that is listened on."""
        shown = lan_address() if host in ALL_INTERFACES else host
        names = [*(name for name in self.names() if name.isascii()), "127.0.0.1", "::1", shown]
        return list(dict.fromkeys(names))


def lan_address() -> str:
    """This machine's IP address on the network that it is on; the loopback's where it is on none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_TEST_NET_ADDRESS)
        except OSError:
            return "127.0.0.1"
        return str(probe.getsockname()[0])


def _is_ip_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name.removeprefix("[").removesuffix("]"))
    except ValueError:
        return False
    # An IPv6 address must stand in brackets (RFC 3986, section 3.2.2).
    return (":" in name) == name.startswith("[")
