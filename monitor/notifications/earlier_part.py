"""The earlier part of a cook that was cut in two when its folder was exchanged for another.

The lid and the stirs are logged in the first part, whose notifications go on until the maker logs work in the second.
"""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace

from monitor.logger import RESUMED_WITHIN_S
from monitor.model import CHECK, LOUDER, STIR, Event
from monitor.notifications.pending import PendingNotification, pending_notifications
from monitor.session import Cook, CookLibrary
from monitor.storage import RecordingError

# Whoever logs any of these works at the cook that the entry is logged in.
WORK = ("lid on", "stirred", "checked")
# What a cook that gets no readings any more can still call for.
DUE = (STIR, CHECK, *LOUDER.values())


class EarlierPart:
    """Finds the cook that ran on this rig until the present one began, where nobody has finished it."""

    def __init__(self, library: CookLibrary, rig: str) -> None:
        self._library = library
        self._rig = rig
        self._cook: Cook | None = None

    def follows(self, cook: Cook | None) -> None:
        """A new cook begins; ``cook`` ran until now, or None where that is not known."""
        self._cook = cook if cook is not None and cook.history().events_of(*WORK) else None

    def pending(
        self, cook: Cook, events: Sequence[Event], pending: tuple[PendingNotification, ...]
    ) -> tuple[PendingNotification, ...]:
        """What the earlier part of ``cook`` still calls for; nothing once somebody has logged work in the cook itself.

        events, pending: of the cook itself, whose notifications take precedence.
        """
        if any(event.kind in WORK for event in events):
            return ()
        earlier = self._find(cook)
        if earlier is None:
            return ()
        answers = [event for event in events if event.kind == "acknowledged"]
        due = pending_notifications(earlier.outlook(), (*earlier.history().events, *answers))
        names = {notification.name for notification in pending}
        whose = f"By its earlier part {earlier.name}, which was left unfinished:"
        return tuple(
            replace(notification, text=f"{whose} {notification.text}")
            for notification in due
            if notification.name in DUE and notification.name not in names
        )

    def _find(self, cook: Cook) -> Cook | None:
        if self._cook is not None and self._cook.finished() is not None:
            self._cook = None
        if self._cook is None:
            self._cook = self._left_unfinished(cook)
        if self._cook is None or cook.now() - self._cook.last_known >= RESUMED_WITHIN_S:
            return None
        return self._cook

    def _left_unfinished(self, cook: Cook) -> Cook | None:
        for path in self._library.left_unfinished(self._rig):
            with suppress(RecordingError):
                found = self._library.cook(path.stem)
                if found.history().events_of(*WORK) and found.name != cook.name:
                    return found
        return None
