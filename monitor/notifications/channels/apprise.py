"""A service that Apprise reaches, such as mail. Loaded only where one is named, because it is large."""

import ctypes
import logging
import re
import threading

from monitor.notifications.channels.channel import Message, SendError
from monitor.notifications.settings import Service

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
# All that a brief service is told beside the title: many show nothing where there is no text.
BRIEF_TEXT = "kettleside says more."
# Apprise's own limits add up to 8 s for a service that is silent; a mail has some eight exchanges of this kind.
LONGEST_S = 30.0
# The longest that Apprise lets a socket be silent is 4 s.
_STOPS_WITHIN_S = 5.0
_STATUS = re.compile(r"error=(\d{3})")


class AppriseChannel:
    """Sends by one service. longest_s: the time limit for one message, real seconds.

    Apprise limits how long a service may be silent, not how long it may take: one that answers byte by byte would hold
    a message for ever. So a thread does the work, and is stopped when its time is over.
    """

    def __init__(self, service: Service, longest_s: float = LONGEST_S) -> None:
        self.name = service.name
        self._service = service
        self._longest_s = longest_s
        self._delivery: _Delivery | None = None

    def send(self, message: Message) -> None:
        """Sends it within ``longest_s`` and the few seconds that stopping takes. Raises SendError."""
        if self._delivery is not None and not self._delivery.stopped():
            # Nothing stops a thread that waits for a name server; no second one is begun beside it.
            raise SendError("its last try still hangs")
        self._delivery = _Delivery(self._service, message, self._longest_s)
        self._delivery.wait()

    def close(self) -> None:
        """Nothing to do: what hangs in a network ends with the process."""


class _Delivery:
    """One message on its way, in a thread of its own."""

    def __init__(self, service: Service, message: Message, longest_s: float) -> None:
        self._service = service
        self._message = message
        self._longest_s = longest_s
        self._why: str | None = "Apprise could not deliver it"
        self._thread = threading.Thread(target=self._run, name=f"message by {service.name}", daemon=True)
        self._thread.start()

    def wait(self) -> None:
        """Waits until it is delivered. Raises SendError."""
        self._thread.join(self._longest_s)
        if self._thread.is_alive():
            self.stopped()
            raise SendError(f"it did not take it within {self._longest_s:g} s")
        if self._why is not None:
            raise SendError(self._why)

    def stopped(self) -> bool:
        """Whether its thread has ended; where it has not, it is made to."""
        if self._thread.is_alive() and self._thread.ident is not None:
            # Raised there as soon as it comes back from the system, at each byte that drips in and at each time-out of
            # its socket, which the unwinding closes.
            ctypes.pythonapi.PyThreadState_SetAsyncExc(ctypes.c_ulong(self._thread.ident), ctypes.py_object(_TimeIsUp))
            self._thread.join(_STOPS_WITHIN_S)
        return not self._thread.is_alive()

    def _run(self) -> None:
        try:
            self._why = _delivered(self._service, self._message)
        except _TimeIsUp:
            self._why = "its time was over"
        except Exception as error:  # noqa: BLE001 - a service's own module may raise anything, with its address in it
            self._why = f"Apprise failed ({type(error).__name__})"


class _TimeIsUp(BaseException):
    """Ends a thread whose time is over; no Exception, because Apprise would keep one to itself."""


def _delivered(service: Service, message: Message) -> str | None:
    """None once Apprise has delivered it; else why not."""
    try:
        import apprise
    except ImportError:
        return (
            "it takes a library that is not installed here; `pip install apprise` in kettleside's environment brings it"
        )

    captured = _LogCapture()
    log = logging.getLogger("apprise")
    # Only this list hears it: not the terminal, and no other log.
    log.propagate = False
    log.setLevel(logging.DEBUG)
    log.addHandler(captured)
    try:
        # In this thread, which is stopped when its time is over and whose log is heard, not in one of Apprise's own.
        sender = apprise.Apprise(asset=apprise.AppriseAsset(async_mode=False, service_timeout=0))
        if not sender.add(service.url):
            return "its url is none that Apprise knows"
        if sender.notify(title=message.title, body=BRIEF_TEXT if service.brief else message.notice.text):
            return None
        return _reason("\n".join(captured.lines))
    finally:
        log.removeHandler(captured)


class _LogCapture(logging.Handler):
    """Collects what Apprise logs in this thread."""

    def __init__(self) -> None:
        super().__init__()
        self.lines: list[str] = []
        self._thread = threading.get_ident()

    def emit(self, record: logging.LogRecord) -> None:
        if record.thread == self._thread:
            self.lines.append(record.getMessage())


def _reason(log: str) -> str:
    status = _STATUS.search(log)
    if status is not None:
        return f"it answered with status {status[1]}"
    return next((clause for pattern, clause in _REASONS if re.search(pattern, log)), "Apprise could not deliver it")
