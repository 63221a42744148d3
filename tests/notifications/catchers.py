"""Real servers on loopback that catch what is sent: mail by SMTP, and posts by HTTP."""

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from email import message_from_bytes, policy
from email.message import EmailMessage
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, Envelope, LoginPassword

from tests.sources.mosquitto import free_port


class MailCatcher:
    """An SMTP server that wants a user and a password, and keeps each mail."""

    def __init__(self, password: str) -> None:
        self.mails: list[EmailMessage] = []
        self.port = free_port()
        self._password = password.encode()
        self._controller = Controller(
            self,
            hostname="127.0.0.1",
            port=self.port,
            authenticator=self._authenticate,
            auth_required=True,
            auth_require_tls=False,
        )

    def _authenticate(self, _server: object, _session: object, _envelope: object, _how: str, data: Any) -> AuthResult:
        good = isinstance(data, LoginPassword) and data.password == self._password
        return AuthResult(success=good, handled=False)

    async def handle_DATA(self, _server: object, _session: object, envelope: Envelope) -> str:  # noqa: N802
        """Takes one mail."""
        assert isinstance(envelope.content, bytes)
        mail = message_from_bytes(envelope.content, policy=policy.default)
        assert isinstance(mail, EmailMessage)
        self.mails.append(mail)
        return "250 taken"

    def __enter__(self) -> "MailCatcher":
        self._controller.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._controller.stop()

    def texts(self) -> list[str]:
        """Subject and body of each mail."""
        bodies = [mail.get_body(("plain", "html")) for mail in self.mails]
        return [f"{m['Subject']}\n{b.get_content() if b else ''}" for m, b in zip(self.mails, bodies, strict=True)]


class PostCatcher:
    """An HTTP server that keeps each post. status: what it answers; hold: while set, it does not answer."""

    def __init__(self, port: int = 0) -> None:
        self.posts: list[dict[str, Any]] = []
        self.status = 200
        self.held = threading.Event()
        self.go = threading.Event()
        self.go.set()
        catcher = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                body = self.rfile.read(int(self.headers.get("Content-Length", "0")))
                if not catcher.go.is_set():
                    catcher.held.set()
                    catcher.go.wait(20)
                if catcher.status == 200:
                    catcher.posts.append(json.loads(body))
                self.send_response(catcher.status)
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, format: str, *args: object) -> None:
                pass

        self._server = ThreadingHTTPServer(("127.0.0.1", port), Handler)
        self.port = self._server.server_address[1]
        threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True).start()

    def titles(self) -> list[str]:
        """The title of each post."""
        return [post["title"] for post in self.posts]

    def close(self) -> None:
        """Ends it."""
        self.go.set()
        self._server.shutdown()
        self._server.server_close()


@contextmanager
def post_catcher(port: int = 0) -> Iterator[PostCatcher]:
    """A catcher of posts that is ended at the end."""
    catcher = PostCatcher(port)
    try:
        yield catcher
    finally:
        catcher.close()
