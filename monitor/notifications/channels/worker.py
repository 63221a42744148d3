"""One channel in a thread of its own, so that a slow channel holds up no other."""

import threading

from monitor.notifications.channels.channel import Channel, Message, SendError
from monitor.notifications.channels.retry_queue import RetryQueue
from monitor.runtime import Clock, Level, Report

WAKE_EVERY_S = 1.0


class ChannelWorker:
    """Queues messages of any rig and has the channel send them, again and again while it fails."""

    def __init__(self, channel: Channel, clock: Clock, report: Report) -> None:
        self.name = channel.name
        self._channel = channel
        self._clock = clock
        self._report = report
        self._queue = RetryQueue()
        self._change = threading.Condition()
        self._stopped = False
        self._failure = ""
        # A daemon: what hangs in a network must not hold up the end of the process.
        self._thread = threading.Thread(target=self._run, name=f"channel {channel.name}", daemon=True)
        self._thread.start()

    def enqueue(self, message: Message) -> None:
        """Queues a message; returns at once."""
        with self._change:
            self._queue.add(message, self._clock.real_s())
            self._change.notify()

    def keep_only(self, rig: str, active: frozenset[str]) -> None:
        """Drops unsent messages of this rig unless their notification is still active, and reports them."""
        with self._change:
            dropped = self._queue.keep_only(rig, active)
        self._report_dropped(dropped)

    def _report_dropped(self, dropped: list[Message]) -> None:
        for message in dropped:
            self._report(f"“{message.title}” was not sent by {self.name}: it is no news any more.", Level.WARNING)

    def _run(self) -> None:
        while not self._stopped:
            with self._change:
                now_s = self._clock.real_s()
                self._report_dropped(self._queue.drop_stale(now_s))
                task = self._queue.next(now_s)
                if task is None:
                    self._change.wait(WAKE_EVERY_S)
                    continue
            self._send(*task)

    def _send(self, queued: Message, outgoing: Message) -> None:
        try:
            self._channel.send(outgoing)
        except SendError as error:
            if self._stopped:
                # It was given up because the worker stops, which is no failure.
                return
            with self._change:
                first = self._queue.failed(self._clock.real_s())
            if first or error.why != self._failure:
                text = f"{self.name} did not take “{queued.title}”: {error.why}. It is tried again."
                self._report(text, Level.WARNING)
            self._failure = error.why
        else:
            with self._change:
                self._queue.sent(queued)
            if self._failure:
                self._report(f"{self.name} takes notices again.")
            self._failure = ""

    def stop(self) -> None:
        """Sends nothing more and gives up what is on its way; returns at once."""
        self._stopped = True
        self._channel.close()
        with self._change:
            self._change.notify()

    def close(self, within_s: float = 2.0) -> None:
        """Stops, and waits at most ``within_s`` real seconds for what is on its way."""
        self.stop()
        self._thread.join(within_s)
