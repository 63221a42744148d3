"""What waits for one messenger: tried again ever later, let go when stale. Pure: the time is handed in."""

from dataclasses import dataclass, replace

from monitor.model import span
from monitor.notifications.channels.channel import Message

FIRST_RETRY_S = 5.0
LAST_RETRY_S = 300.0
# After this long what was due is no news; the matter itself is told anew, with fresh words, if it still stands.
STALE_S = 900.0


@dataclass(frozen=True, slots=True)
class _Queued:
    letter: Message
    since_s: float


class RetryQueue:
    """Letters for one messenger, at most one a matter of each cooker. All times are real seconds."""

    def __init__(self) -> None:
        self._waiting: dict[str, _Queued] = {}
        self._retry_s = 0.0
        self._delay_s = FIRST_RETRY_S
        self._failed_since_s: float | None = None
        self._dropped = 0

    def __len__(self) -> int:
        return len(self._waiting)

    def put(self, letter: Message, now_s: float) -> None:
        """Takes a letter; an older one of the same matter goes."""
        if self._waiting.pop(letter.title, None) is not None:
            self._dropped += 1
        self._waiting[letter.title] = _Queued(letter, now_s)

    def let_go_of_stale(self, now_s: float) -> list[Message]:
        """Lets go of what is no news any more; gives it."""
        return self._let_go([one.letter for one in self._waiting.values() if now_s - one.since_s >= STALE_S])

    def keep_only(self, rig: str, standing: frozenset[str]) -> list[Message]:
        """Lets go of what no longer stands at this cooker; gives it. standing: names of matters."""
        letters = [one.letter for one in self._waiting.values()]
        return self._let_go([one for one in letters if one.rig == rig and one.notice.name not in standing])

    def _let_go(self, gone: list[Message]) -> list[Message]:
        for letter in gone:
            del self._waiting[letter.title]
        self._dropped += len(gone)
        return gone

    def next(self, now_s: float) -> tuple[Message, Message] | None:
        """The letter to carry now, as it was put and with what its words have to add, or None."""
        if not self._waiting or now_s < self._retry_s:
            return None
        letter = next(iter(self._waiting.values())).letter
        if self._failed_since_s is None or not self._dropped:
            return letter, letter
        count = "One earlier notice" if self._dropped == 1 else f"{self._dropped} earlier notices"
        since = span(now_s - self._failed_since_s)
        words = f"{letter.notice.words} {count} could not be sent: nothing went out for {since}."
        return letter, Message(letter.rig, replace(letter.notice, words=words))

    def carried(self, letter: Message) -> None:
        """It went out, as it was put."""
        held = self._waiting.get(letter.title)
        # While it was on its way a newer one of the same matter may have come.
        if held is not None and held.letter == letter:
            del self._waiting[letter.title]
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
