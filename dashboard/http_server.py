"""The connections of waitress, made patient with the slow, bounded in number, and secret where wanted.

waitress reads and writes without blocking in one loop, and its threads see whole requests only. What it lacks is a
limit to how long a request may take to arrive, a limit to the connections of one address, and TLS. A server with TLS
of its own would have to be fed by a thread a connection, or shakes hands while all others wait; here the handshake,
too, is bytes of one connection among others in the loop.
"""

import errno
import math
import socket
import ssl
import threading
from collections.abc import Callable
from typing import Any

from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.server import TcpWSGIServer
from waitress.task import ThreadedTaskDispatcher

from monitor.runtime import SystemClock

# No answer takes long, and one thread's memory is warmer than eight's.
THREADS = 4
# A whole request, its handshake included, has to come within this.
LONGEST_REQUEST_S = 20.0
# An open connection on which nothing is asked is closed after this.
IDLE_S = 60
LOOK_EVERY_S = 5
# A browser opens six to a host; a household behind one address has a few phones.
MOST_OF_ADDRESS = 40
MOST_CONNECTIONS = 160
LONGEST_HEAD = 16_384
# Flask holds bodies to less; what is longer than this is not even read.
LONGEST_BODY = 65_536

# Without a file to spare nobody can be let in, and the loop would ask again at once, for ever.
OUT_OF_FILES = (errno.EMFILE, errno.ENFILE)
REST_S = 0.5
SAID_AGAIN_S = 600.0

_AGAIN = (ssl.SSLWantReadError, ssl.SSLWantWriteError)


class Connection(HTTPChannel):  # type: ignore[misc]
    """One connection. ``began_s``: since when it owes the rest of a request, or None."""

    def __init__(self, server: "Server", sock: socket.socket, addr: Any, adj: Adjustments, map: Any = None) -> None:
        self.began_s: float | None = server.clock.real_s()
        # One thread reads while another writes, which one TLS connection does not bear.
        self._secret_lock = threading.Lock()
        super().__init__(server, sock, addr, adj, map=map)

    def received(self, data: bytes) -> bool:
        taken = bool(super().received(data))
        owes = self.request is not None
        if not owes:
            self.began_s = None
        elif self.began_s is None:
            self.began_s = self.server.clock.real_s()
        return taken

    def handle_read(self) -> None:
        if not isinstance(self.socket, ssl.SSLSocket):
            super().handle_read()
            return
        # What TLS has deciphered already, the loop's select does not see.
        while True:
            try:
                with self._secret_lock:
                    data = self.socket.recv(self.adj.recv_bytes)
            except _AGAIN:
                return
            except OSError:
                self.handle_close()
                return
            if not data:
                self.handle_close()
                return
            self.last_activity = self.server.wall()
            self.received(data)
            if self.socket is None or not self.socket.pending():
                return

    def send(self, data: bytes, do_close: bool = True) -> int:
        if not isinstance(self.socket, ssl.SSLSocket):
            return int(super().send(data, do_close))
        try:
            with self._secret_lock:
                return self.socket.send(data)
        except _AGAIN:
            return 0
        except OSError:
            if do_close:
                self.handle_close()
            return 0


class Server(TcpWSGIServer):  # type: ignore[misc]
    """waitress on one listening socket.

    secret: the TLS of its connections, or None. complain: takes one sentence. tidy: called in the loop every few
    seconds; it must not block.
    """

    channel_class = Connection

    def __init__(
        self,
        application: Callable[..., Any],
        listener: socket.socket,
        secret: ssl.SSLContext | None,
        complain: Callable[[str], None] = lambda _words: None,
        tidy: Callable[[], None] = lambda: None,
    ) -> None:
        adjustments = Adjustments(
            sockets=[listener],
            threads=THREADS,
            ident=None,
            url_scheme="https" if secret else "http",
            channel_timeout=IDLE_S,
            cleanup_interval=LOOK_EVERY_S,
            connection_limit=MOST_CONNECTIONS,
            max_request_header_size=LONGEST_HEAD,
            max_request_body_size=LONGEST_BODY,
            # Browsers and scanners break off as they like; that is no news.
            log_socket_errors=False,
        )
        self.clock = SystemClock()
        self._secret = secret
        self._complain = complain
        self._tidy = tidy
        self._rests_until_s = self._said_s = -math.inf
        dispatcher = ThreadedTaskDispatcher()
        dispatcher.set_thread_count(THREADS)
        super().__init__(
            application,
            {},
            True,
            listener,
            dispatcher=dispatcher,
            adj=adjustments,
            bind_socket=False,
            sockinfo=(listener.family, listener.type, listener.proto, listener.getsockname()),
        )

    def wall(self) -> float:
        """Unix seconds, by which waitress counts a connection's idleness."""
        return self.clock.now()

    def readable(self) -> bool:
        return bool(super().readable()) and self.clock.real_s() >= self._rests_until_s

    def handle_accept(self) -> None:
        try:
            accepted = self.accept()
        except OSError as error:
            if error.errno in OUT_OF_FILES:
                self._rest()
            return
        if accepted is None:
            return
        connection, address = accepted
        of_address = sum(channel.addr[0] == address[0] for channel in self.active_channels.values())
        if of_address >= MOST_OF_ADDRESS:
            connection.close()
            return
        try:
            self.set_socket_options(connection)
            connection.setblocking(False)
            if self._secret is not None:
                connection = self._secret.wrap_socket(
                    connection, server_side=True, do_handshake_on_connect=False, suppress_ragged_eofs=True
                )
        except OSError:
            connection.close()
            return
        self.channel_class(self, connection, address, self.adj, map=self._map)

    def _rest(self) -> None:
        now_s = self.clock.real_s()
        self._rests_until_s = now_s + REST_S
        if now_s - self._said_s >= SAID_AGAIN_S:
            self._said_s = now_s
            self._complain("No other phone gets in just now, because too many files are open; it is tried again.")

    def maintenance(self, now: float) -> None:
        super().maintenance(now)
        self._tidy()
        now_s = self.clock.real_s()
        for channel in self.active_channels.values():
            if not channel.requests and channel.began_s is not None and now_s - channel.began_s > LONGEST_REQUEST_S:
                channel.will_close = True
