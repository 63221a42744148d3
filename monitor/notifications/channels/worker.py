"""One messenger with a thread of its own, so that a slow one holds up nobody."""

import threading

from monitor.notifications.channels.channel import Channel, Message, SendError
from monitor.notifications.channels.retry_queue import RetryQueue
from monitor.runtime import Clock, Level, Report

LOOK_EVERY_S = 1.0


class ChannelWorker:
    """Takes letters of any cooker at once and has the messenger carry them when it can."""

    def __init__(self, messenger: Channel, clock: Clock, say: Report) -> None:
        self.name = messenger.name
        self._messenger = messenger
        self._clock = clock
        self._say = say
        self._satchel = RetryQueue()
        self._change = threading.Condition()
        self._ended = False
        self._trouble = ""
        # Not waited for at the end: what hangs in a network must not hold up the house.
        self._thread = threading.Thread(target=self._go, name=f"messenger {messenger.name}", daemon=True)
        self._thread.start()

    def put(self, letter: Message) -> None:
        """Takes a letter."""
        with self._change:
            self._satchel.put(letter, self._clock.real_s())
            self._change.notify()

    def keep_only(self, rig: str, standing: frozenset[str]) -> None:
        """Lets go of what no longer stands at this cooker, and says so."""
        with self._change:
            gone = self._satchel.keep_only(rig, standing)
        self._say_gone(gone)

    def _say_gone(self, gone: list[Message]) -> None:
        for letter in gone:
            self._say(f"“{letter.title}” was not sent by {self.name}: it is no news any more.", Level.WARNING)

    def _go(self) -> None:
        while not self._ended:
            with self._change:
                now_s = self._clock.real_s()
                self._say_gone(self._satchel.let_go_of_stale(now_s))
                task = self._satchel.next(now_s)
                if task is None:
                    self._change.wait(LOOK_EVERY_S)
                    continue
            letter, outgoing = task
            try:
                self._messenger.send(outgoing)
            except SendError as error:
                if self._ended:
                    # It was given up because all ends, which is no trouble.
                    return
                with self._change:
                    first = self._satchel.failed(self._clock.real_s())
                if first or error.why != self._trouble:
                    self._say(
                        f"{self.name} did not take “{letter.title}”: {error.why}. It is tried again.", Level.WARNING
                    )
                self._trouble = error.why
            else:
                with self._change:
                    self._satchel.carried(letter)
                if self._trouble:
                    self._say(f"{self.name} takes notices again.")
                self._trouble = ""

    def end(self) -> None:
        """Carries nothing more, and has what is on its way given up; returns at once."""
        self._ended = True
        self._messenger.close()
        with self._change:
            self._change.notify()

    def close(self, within_s: float = 2.0) -> None:
        """Ends it, and waits this long for what is on its way."""
        self.end()
        self._thread.join(within_s)
