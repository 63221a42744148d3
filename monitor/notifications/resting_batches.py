"""The batches of one rig whose cook is over and whose timers still run or ring: a dose, a night, a week."""

from collections.abc import Callable
from contextlib import suppress

from monitor.notifications.pending import PendingNotification, timer_notifications
from monitor.notifications.repeat import NotificationState
from monitor.notifications.store import load_states
from monitor.session import Cook, CookLibrary
from monitor.storage import RecordingError

Tell = Callable[[Cook, dict[str, NotificationState], tuple[PendingNotification, ...]], dict[str, NotificationState]]


class RestingBatches:
    """Follows them from one update to the next; what was told of each is kept beside what was told of the cooks.

    names: of the notifications that nobody has answered.
    """

    def __init__(self, library: CookLibrary, rig: str) -> None:
        self._library = library
        self._rig = rig
        self._states: dict[str, dict[str, NotificationState]] = {}
        self.names: frozenset[str] = frozenset()

    def tell(self, tell: Tell) -> None:
        """Tells what rings. tell: sends what is due of one batch, and gives its states after it."""
        states, names = {}, set[str]()
        # A folder that is away is the running cook's to tell of.
        with suppress(RecordingError):
            for found in self._library.timed(self._rig):
                cook = self._library.cook(found.path.stem)
                cook.look()
                pending = timer_notifications(cook.ringing(), cook.title())
                before = self._states.get(cook.name)
                if before is None:
                    before = load_states(self._library.folder, cook.name, cook.name)
                states[cook.name] = tell(cook, before, pending)
                names |= {one.name for one in pending}
            self._states, self.names = states, frozenset(names)
