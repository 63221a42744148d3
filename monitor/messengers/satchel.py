"""What waits for one messenger: tried again ever later, let go when stale. Pure: the time is handed in."""

from dataclasses import dataclass

from monitor.telling.rounds import Notice
from monitor.words import span

FIRST_RETRY_S = 5.0
LAST_RETRY_S = 300.0
# After this long what was due is no news; the matter itself is told anew, with fresh words, if it still stands.
STALE_S = 900.0


@dataclass(frozen=True, slots=True)
class _Waiting:
    notice: Notice
    since_s: float


class Satchel:
    """Notices for one messenger, at most one a matter. All times are real seconds."""

    def __init__(self) -> None:
        self._waiting: dict[str, _Waiting] = {}
        self._retry_s = 0.0
        self._delay_s = FIRST_RETRY_S
        self._failed_since_s: float | None = None
        self._dropped = 0

    def __len__(self) -> int:
        return len(self._waiting)

    def put(self, notice: Notice, now_s: float) -> None:
        """Takes a notice; an older one of the same matter goes."""
        if self._waiting.pop(notice.name, None) is not None:
            self._dropped += 1
        self._waiting[notice.name] = _Waiting(notice, now_s)

    def let_go(self, now_s: float, standing: frozenset[str] | None = None) -> list[Notice]:
        """Lets go of what is stale, and of what is not among ``standing`` where that is given; gives it."""
        gone = [
            waiting.notice
            for waiting in self._waiting.values()
            if now_s - waiting.since_s >= STALE_S or (standing is not None and waiting.notice.name not in standing)
        ]
        for notice in gone:
            del self._waiting[notice.name]
        self._dropped += len(gone)
        return gone

    def next(self, now_s: float) -> tuple[Notice, str] | None:
        """The notice to carry now, with the words that go with it, or None."""
        if not self._waiting or now_s < self._retry_s:
            return None
        notice = next(iter(self._waiting.values())).notice
        if self._failed_since_s is None or not self._dropped:
            return notice, notice.words
        count = "One earlier notice" if self._dropped == 1 else f"{self._dropped} earlier notices"
        since = span(now_s - self._failed_since_s)
        return notice, f"{notice.words} {count} could not be sent: nothing went out for {since}."

    def carried(self, notice: Notice) -> None:
        """It went out."""
        held = self._waiting.get(notice.name)
        # While it was on its way a newer one of the same matter may have come.
        if held is not None and held.notice == notice:
            del self._waiting[notice.name]
        self._retry_s, self._delay_s = 0.0, FIRST_RETRY_S
        self._failed_since_s, self._dropped = None, 0

    def failed(self, now_s: float) -> bool:
        """It did not go out and is tried again later; whether this is the first failure since one went out."""
        self._retry_s = now_s + self._delay_s
        self._delay_s = min(self._delay_s * 2.0, LAST_RETRY_S)
        first = self._failed_since_s is None
        if first:
            self._failed_since_s = now_s
        return first
