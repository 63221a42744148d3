"""How long a stranger who guesses has to wait. Pure: the time is handed in."""

from dataclasses import dataclass, field

# Whoever has been quiet for this long begins anew.
FORGOTTEN_AFTER_S = 3600.0
MOST_ADDRESSES = 1024


@dataclass(slots=True)
class _Tries:
    wrong: int = 0
    last_s: float = 0.0
    free_at_s: float = 0.0


@dataclass(slots=True)
class Throttle:
    """Waits that double with each wrong try, for each address and for all together. Not for two threads at once.

    free, free_of_all: wrong tries without a wait. first_s: the first wait. longest_s, longest_of_all_s: the longest.

    >>> throttle = Throttle(free=1, first_s=2.0)
    >>> for _ in range(3):
    ...     throttle.failed("192.0.2.1", 0.0)
    >>> throttle.wait_s("192.0.2.1", 0.0), throttle.wait_s("192.0.2.2", 0.0)
    (4.0, 0.0)
    """

    free: int = 3
    free_of_all: int = 20
    first_s: float = 1.0
    longest_s: float = 900.0
    longest_of_all_s: float = 60.0
    _by_address: dict[str, _Tries] = field(default_factory=dict)
    _all: _Tries = field(default_factory=_Tries)

    def wait_s(self, address: str, now_s: float) -> float:
        """Seconds until this address may try again; 0 when it may."""
        own = self._by_address.get(address)
        free_at_s = max(self._all.free_at_s, own.free_at_s if own else 0.0)
        return max(0.0, free_at_s - now_s)

    def failed(self, address: str, now_s: float) -> None:
        """Takes note of a wrong try."""
        while len(self._by_address) >= MOST_ADDRESSES and address not in self._by_address:
            del self._by_address[next(iter(self._by_address))]
        own = self._by_address.setdefault(address, _Tries())
        self._count(own, now_s, self.free, self.longest_s)
        self._count(self._all, now_s, self.free_of_all, self.longest_of_all_s)

    def succeeded(self, address: str) -> None:
        """Forgets the wrong tries of an address that then knew better."""
        self._by_address.pop(address, None)

    def _count(self, tries: _Tries, now_s: float, free: int, longest_s: float) -> None:
        if now_s - tries.last_s > FORGOTTEN_AFTER_S:
            tries.wrong = 0
        tries.wrong += 1
        tries.last_s = now_s
        if tries.wrong > free:
            # The exponent is bounded so that no count of tries overflows.
            tries.free_at_s = now_s + min(longest_s, self.first_s * 2.0 ** min(tries.wrong - free - 1, 20))
