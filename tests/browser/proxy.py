"""A network between a phone and the server that loses answers or goes silent: plain sockets, no library of HTTP."""

import random
import select
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress

PIECE = 65_536
# How often a connection looks whether the test is over.
LOOK_S = 0.05


class Proxy:
    """Carries bytes to a server on this machine and back, as the network of the moment has it.

    ``black_hole``: nothing is carried either way, and a connection that was open then stays dead, as after a change of
    network. ``away``: what is sent ends its connection, as where no server is. ``swallow``: so many next answers are swallowed, their connections left open. ``lose``: the share of answers
    that are lost with their connection; ``lost`` counts them. A browser asks one thing at a time on a connection, so
    what comes back first after a request is the beginning of its answer.
    """

    def __init__(self, port: int, seed: int = 1) -> None:
        self.black_hole = threading.Event()
        self.away = threading.Event()
        self.swallow = 0
        self.lose = 0.0
        self.lost = 0
        self.answers = 0
        self._to = ("127.0.0.1", port)
        self._random = random.Random(seed)
        self._over = threading.Event()
        self._lock = threading.Lock()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._listener.settimeout(LOOK_S)
        self._threads = [threading.Thread(target=self._accept)]
        self._threads[0].start()

    @property
    def address(self) -> str:
        """Where a browser finds it."""
        return f"http://127.0.0.1:{self._listener.getsockname()[1]}"

    def close(self) -> None:
        """Ends every connection."""
        self._over.set()
        for thread in self._threads:
            thread.join(10)
        self._listener.close()

    def _accept(self) -> None:
        while not self._over.is_set():
            with suppress(TimeoutError):
                client, _ = self._listener.accept()
                thread = threading.Thread(target=self._carry, args=(client,))
                self._threads.append(thread)
                thread.start()

    def _carry(self, client: socket.socket) -> None:
        """One connection, both ways, until either side ends it or an answer is lost."""
        with client, socket.create_connection(self._to) as server, suppress(OSError):
            dead = begun = False
            while not self._over.is_set():
                ready, _, _ = select.select([client, server], [], [], LOOK_S)
                dead = dead or self.black_hole.is_set()
                for end in ready:
                    piece = end.recv(PIECE)
                    if not piece or (end is client and self.away.is_set()):
                        return
                    if dead:
                        continue
                    if end is client:
                        server.sendall(piece)
                        begun = True
                        continue
                    fate = self._fate() if begun else "carried"
                    begun = False
                    if fate == "lost":
                        return
                    if fate == "swallowed":
                        dead = True
                    else:
                        client.sendall(piece)

    def _fate(self) -> str:
        with self._lock:
            self.answers += 1
            if self.swallow > 0:
                self.swallow -= 1
                return "swallowed"
            if self._random.random() < self.lose:
                self.lost += 1
                return "lost"
            return "carried"


@contextmanager
def network(port: int, seed: int = 1) -> Iterator[Proxy]:
    """A network to a server on this port, gone at the end of the block."""
    proxy = Proxy(port, seed)
    try:
        yield proxy
    finally:
        proxy.close()
