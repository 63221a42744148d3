"""A service that Apprise reaches, such as mail. Loaded only where one is named, because it is large."""

import logging
import re
import threading

from monitor.messengers import Letter, NotCarriedError
from monitor.telling.settings import Service

# What Apprise wrote about a failure, and what of it is told: never its own words, which may repeat an address.
_REASONS = (
    (r"Connection refused", "the connection was refused"),
    (r"timed? ?out", "it did not answer in time"),
    (r"NameResolution|Name or service|getaddrinfo|nodename|name resolution", "its name is not known"),
    (r"CERTIFICATE|certificate verify", "its certificate is not trusted"),
    (r"unreachable", "the network does not reach it"),
    (r"SMTPAuthentication|[Aa]uthenticat|\b535\b", "it refuses the user and the password"),
    (r"SMTPRecipientsRefused|SMTPSenderRefused", "it refuses an address"),
)
_STATUS = re.compile(r"error=(\d{3})")


class ServiceMessenger:
    """Carries by one service."""

    def __init__(self, service: Service) -> None:
        self.name = service.name
        self._service = service

    def carry(self, letter: Letter) -> None:
        """Carries it; blocks for as long as the service may take. Raises NotCarriedError."""
        kept = _Kept()
        try:
            import apprise

            log = logging.getLogger("apprise")
            # Only this list hears it: not the terminal, and no other log.
            log.propagate = False
            log.setLevel(logging.DEBUG)
            log.addHandler(kept)
            try:
                carrier = apprise.Apprise()
                known = carrier.add(self._service.url)
                carried = bool(known) and bool(carrier.notify(title=letter.title, body=letter.notice.words))
            finally:
                log.removeHandler(kept)
        except Exception as error:  # noqa: BLE001 - a service's own module may raise anything, with its address in it
            raise NotCarriedError(f"Apprise failed ({type(error).__name__})") from None
        if not known:
            raise NotCarriedError("its url is none that Apprise knows")
        if not carried:
            raise NotCarriedError(_reason("\n".join(kept.lines)))


class _Kept(logging.Handler):
    """Keeps what Apprise writes while it carries in this thread."""

    def __init__(self) -> None:
        super().__init__()
        self.lines: list[str] = []
        self._thread = threading.get_ident()

    def emit(self, record: logging.LogRecord) -> None:
        if record.thread == self._thread:
            self.lines.append(record.getMessage())


def _reason(said: str) -> str:
    status = _STATUS.search(said)
    if status is not None:
        return f"it answered with status {status[1]}"
    return next((words for pattern, words in _REASONS if re.search(pattern, said)), "Apprise could not deliver it")
