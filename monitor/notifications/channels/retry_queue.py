"""The messages that wait for one channel: tried again ever later, dropped when stale. Pure: the time is handed in."""

from dataclasses import dataclass, replace

from monitor.model import span
from monitor.notifications.channels.channel import Message

FIRST_RETRY_S = 5.0
LAST_RETRY_S = 300.0
# After this long what was due is no news; it is notified anew, with a fresh text, if it is still pending.
STALE_S = 900.0


@dataclass(frozen=True, slots=True)
class _Queued:
    message: Message
    since_s: float


class RetryQueue:
    """Messages for one channel, at most one for each notification of each rig. All times are real seconds."""

    def __init__(self) -> None:
        self._waiting: dict[str, _Queued] = {}
        self._retry_s = 0.0
        self._delay_s = FIRST_RETRY_S
        self._failed_since_s: float | None = None
        self._dropped = 0

    def __len__(self) -> int:
        return len(self._waiting)

    def add(self, message: Message, now_s: float) -> None:
        """Queues a message in the place of an older one with the same title."""
        if self._waiting.pop(message.title, None) is not None:
            self._dropped += 1
        self._waiting[message.title] = _Queued(message, now_s)

    def drop_stale(self, now_s: float) -> list[Message]:
        """Drops and returns the messages that have waited for ``STALE_S``."""
        return self._drop([queued.message for queued in self._waiting.values() if now_s - queued.since_s >= STALE_S])

    def keep_only(self, rig: str, active: frozenset[str]) -> list[Message]:
        """Drops and returns the messages of this rig whose notification is not active any more. active: names."""
        messages = [queued.message for queued in self._waiting.values()]
        return self._drop([message for message in messages if message.rig == rig and message.notice.name not in active])

    def _drop(self, messages: list[Message]) -> list[Message]:
        for message in messages:
            del self._waiting[message.title]
        self._dropped += len(messages)
        return messages

    def next(self, now_s: float) -> tuple[Message, Message] | None:
        """The message to send now, as queued and as it goes out, or None.

        After an outage the text that goes out says how many messages were dropped.
        """
        if not self._waiting or now_s < self._retry_s:
            return None
        message = next(iter(self._waiting.values())).message
        if self._failed_since_s is None or not self._dropped:
            return message, message
        count = "One earlier notice" if self._dropped == 1 else f"{self._dropped} earlier notices"
        since = span(now_s - self._failed_since_s)
        text = f"{message.notice.text} {count} could not be sent: nothing went out for {since}."
        return message, Message(message.rig, replace(message.notice, text=text))

    def sent(self, message: Message) -> None:
        """Takes a message, as queued, off the queue after it went out."""
        queued = self._waiting.get(message.title)
        # While it was on its way a newer one with the same title may have come.
        if queued is not None and queued.message == message:
            del self._waiting[message.title]
        self._retry_s, self._delay_s = 0.0, FIRST_RETRY_S
        self._failed_since_s, self._dropped = None, 0

    def failed(self, now_s: float) -> bool:
        """Puts the next try off after a failure; whether it is the first failure since a message went out."""
        self._retry_s = now_s + self._delay_s
        self._delay_s = min(self._delay_s * 2.0, LAST_RETRY_S)
        first = self._failed_since_s is None
        if first:
            self._failed_since_s = now_s
        return first
