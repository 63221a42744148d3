"""The HTTP server: waitress with a time limit for requests, limits for the number of connections, and TLS.

waitress reads and writes without blocking in one loop, and its threads see complete requests only. It has no limit to
the time that a request takes to arrive, none to the connections of one address, and no TLS. A listening TLS socket
would need a thread for each connection, or block all others during a handshake; here the handshake, too, is
non-blocking input and output of one connection in the loop.
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

from monitor.runtime import SystemClock, beat

# No answer takes long, and few threads keep their caches warm.
THREADS = 4
# A complete request, with the TLS handshake, has to arrive within this.
MAX_REQUEST_S = 20.0
# An open connection without a request is closed after this.
IDLE_S = 60
MAINTENANCE_EVERY_S = 5
# A browser opens six to a host; a household behind one address has a few phones.
MAX_CONNECTIONS_PER_ADDRESS = 40
MAX_CONNECTIONS = 160
MAX_HEADER_BYTES = 16_384
# Flask allows less; a longer body is not even read.
MAX_BODY_BYTES = 65_536

# Without a free file descriptor no connection can be accepted, and the loop would retry at once, for ever.
OUT_OF_DESCRIPTORS = (errno.EMFILE, errno.ENFILE)
ACCEPT_PAUSE_S = 0.5
REPORT_AGAIN_S = 600.0

_WOULD_BLOCK = (ssl.SSLWantReadError, ssl.SSLWantWriteError)


class Connection(HTTPChannel):  # type: ignore[misc]
    """One connection. began_s: since when a request has been incomplete, real seconds; None where there is none."""

    def __init__(self, server: "Server", sock: socket.socket, addr: Any, adj: Adjustments, map: Any = None) -> None:
        self.began_s: float | None = server.clock.real_s()
        # One thread reads while another writes, which a TLS connection does not allow.
        self._tls_lock = threading.Lock()
        super().__init__(server, sock, addr, adj, map=map)

    def received(self, data: bytes) -> bool:
        accepted = bool(super().received(data))
        if self.request is None:
            self.began_s = None
        elif self.began_s is None:
            self.began_s = self.server.clock.real_s()
        return accepted

    def handle_read(self) -> None:
        if not isinstance(self.socket, ssl.SSLSocket):
            super().handle_read()
            return
        # The loop's select does not see what TLS has already decrypted.
        while True:
            try:
                with self._tls_lock:
                    data = self.socket.recv(self.adj.recv_bytes)
            except _WOULD_BLOCK:
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
            with self._tls_lock:
                return self.socket.send(data)
        except _WOULD_BLOCK:
            return 0
        except OSError:
            if do_close:
                self.handle_close()
            return 0


class Server(TcpWSGIServer):  # type: ignore[misc]
    """waitress on one listening socket.

    tls: the TLS of its connections, or None. complain: takes one sentence. tidy: called in the loop every few seconds;
    it must not block.
    """

    channel_class = Connection

    def __init__(
        self,
        application: Callable[..., Any],
        listener: socket.socket,
        tls: ssl.SSLContext | None,
        complain: Callable[[str], None] = lambda _words: None,
        tidy: Callable[[], None] = lambda: None,
    ) -> None:
        adjustments = Adjustments(
            sockets=[listener],
            threads=THREADS,
            ident=None,
            url_scheme="https" if tls else "http",
            channel_timeout=IDLE_S,
            cleanup_interval=MAINTENANCE_EVERY_S,
            connection_limit=MAX_CONNECTIONS,
            max_request_header_size=MAX_HEADER_BYTES,
            max_request_body_size=MAX_BODY_BYTES,
            # Browsers and scanners break connections off at any time; that is not worth a log line.
            log_socket_errors=False,
        )
        self.clock = SystemClock()
        self._tls = tls
        self._complain = complain
        self._tidy = tidy
        self._paused_until_s = self._reported_s = -math.inf
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
        """Unix seconds, by which waitress measures how long a connection is idle."""
        return self.clock.now()

    def readable(self) -> bool:
        return bool(super().readable()) and self.clock.real_s() >= self._paused_until_s

    def handle_accept(self) -> None:
        try:
            accepted = self.accept()
        except OSError as error:
            if error.errno in OUT_OF_DESCRIPTORS:
                self._pause_accepting()
            return
        if accepted is None:
            return
        connection, address = accepted
        of_address = sum(channel.addr[0] == address[0] for channel in self.active_channels.values())
        if of_address >= MAX_CONNECTIONS_PER_ADDRESS:
            connection.close()
            return
        try:
            self.set_socket_options(connection)
            connection.setblocking(False)
            if self._tls is not None:
                connection = self._tls.wrap_socket(
                    connection, server_side=True, do_handshake_on_connect=False, suppress_ragged_eofs=True
                )
        except OSError:
            connection.close()
            return
        self.channel_class(self, connection, address, self.adj, map=self._map)

    def _pause_accepting(self) -> None:
        now_s = self.clock.real_s()
        self._paused_until_s = now_s + ACCEPT_PAUSE_S
        if now_s - self._reported_s >= REPORT_AGAIN_S:
            self._reported_s = now_s
            self._complain("No other phone gets in just now, because too many files are open; it is tried again.")

    def maintenance(self, now: float) -> None:
        super().maintenance(now)
        beat()
        self._tidy()
        now_s = self.clock.real_s()
        for channel in self.active_channels.values():
            if not channel.requests and channel.began_s is not None and now_s - channel.began_s > MAX_REQUEST_S:
                channel.will_close = True
