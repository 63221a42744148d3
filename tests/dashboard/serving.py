"""The dashboard's server in a thread of the test's own process."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from dashboard.server.http_server import Server


@contextmanager
def running(server: Server) -> Iterator[Server]:
    """Serves until the end of the block, and ends in order.

    The workers end first: one that still answers would wake the loop by a pipe that is closed.
    """
    thread = threading.Thread(target=server.run)
    thread.start()
    try:
        yield server
    finally:
        server.task_dispatcher.shutdown()
        # Closed in its own thread, because its loop is not to be pulled from under it.
        server.trigger.pull_trigger(lambda: server.asyncore.close_all(server._map))
        thread.join(20)
