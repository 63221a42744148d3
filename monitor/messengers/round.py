"""One messenger with a thread of its own, so that a slow one holds up nobody."""

import threading

from monitor.clock import Clock
from monitor.messengers import Messenger, NotCarriedError
from monitor.messengers.satchel import Satchel
from monitor.say import Level, Say
from monitor.telling.rounds import Notice

LOOK_EVERY_S = 1.0


class Round:
    """Takes notices at once and has the messenger carry them when it can. title: stands over every notice."""

    def __init__(self, messenger: Messenger, title: str, clock: Clock, say: Say) -> None:
        self.name = messenger.name
        self._messenger = messenger
        self._title = title
        self._clock = clock
        self._say = say
        self._satchel = Satchel()
        self._change = threading.Condition()
        self._ended = False
        self._trouble = ""
        # Not waited for at the end: what hangs in a network must not hold up the house.
        self._thread = threading.Thread(target=self._go, name=f"messenger {messenger.name}", daemon=True)
        self._thread.start()

    def put(self, notice: Notice) -> None:
        """Takes a notice."""
        with self._change:
            self._satchel.put(notice, self._clock.real_s())
            self._change.notify()

    def keep_only(self, standing: frozenset[str]) -> None:
        """Lets go of what no longer stands, and says so."""
        with self._change:
            gone = self._satchel.let_go(self._clock.real_s(), standing)
        self._say_gone(gone)

    def _say_gone(self, gone: list[Notice]) -> None:
        for notice in gone:
            self._say(f"“{notice.name}” was not sent by {self.name}: it is no news any more.", Level.WARNING)

    def _go(self) -> None:
        while not self._ended:
            with self._change:
                now_s = self._clock.real_s()
                self._say_gone(self._satchel.let_go(now_s))
                task = self._satchel.next(now_s)
                if task is None:
                    self._change.wait(LOOK_EVERY_S)
                    continue
            notice, words = task
            try:
                self._messenger.carry(f"{self._title}: {notice.name}", words)
            except NotCarriedError as error:
                with self._change:
                    first = self._satchel.failed(self._clock.real_s())
                if first or error.why != self._trouble:
                    self._say(
                        f"{self.name} did not take “{notice.name}”: {error.why}. It is tried again.", Level.WARNING
                    )
                self._trouble = error.why
            else:
                with self._change:
                    self._satchel.carried(notice)
                if self._trouble:
                    self._say(f"{self.name} takes notices again.")
                self._trouble = ""

    def close(self, within_s: float = 1.0) -> None:
        """Ends it, after what is on its way has had this long."""
        self._ended = True
        with self._change:
            self._change.notify()
        self._thread.join(within_s)
