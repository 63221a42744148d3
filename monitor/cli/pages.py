"""The pages as the commands use them, found by their entry point, so that nothing here imports them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.metadata import entry_points
from pathlib import Path
from typing import Protocol, cast

from monitor.runtime import MonitorError

GROUP = "kettleside.pages"


class PagesMissingError(MonitorError):
    """No installed program offers the pages."""

    def __init__(self) -> None:
        super().__init__(
            "The pages are not installed; install kettleside with its package dashboard, as the README says."
        )


@dataclass(frozen=True, slots=True)
class ServeOptions:
    """How to serve the recordings of a folder.

    host, port: the address to listen on; port 0 picks a free one. names: host names to answer to beside the machine's
    own. tls: whether to serve over TLS. certificate, key: the user's PEM files, both or neither; without them a
    certificate is made. user: the account to change to when root starts the server. mdns: whether to be found by name.
    """

    folder: Path
    host: str
    port: int
    names: Sequence[str] = ()
    tls: bool = False
    certificate: Path | None = None
    key: Path | None = None
    user: str | None = None
    mdns: bool = True


class PairedDevice(Protocol):
    """A phone that is paired, or a view-only link. Moments are Unix seconds."""

    @property
    def id(self) -> str: ...
    @property
    def name(self) -> str: ...
    @property
    def view_only(self) -> bool: ...
    @property
    def created(self) -> float: ...
    @property
    def expires(self) -> float | None: ...
    @property
    def last_seen(self) -> float | None: ...


class ManualPassage(Protocol):
    """What stands under one heading of the manual. text: Markdown."""

    @property
    def page(self) -> str: ...
    @property
    def title(self) -> str: ...
    @property
    def heading(self) -> str: ...
    @property
    def text(self) -> str: ...


class Pages(Protocol):
    """What the program that offers the pages can do. Every method raises MonitorError for what cannot be done."""

    def serve(self, options: ServeOptions, *, announce: Callable[[str], None], complain: Callable[[str], None]) -> None:
        """Serves until SIGTERM or Ctrl-C. announce: takes the address with its QR code; complain: takes warnings."""
        ...

    def address(self, port: int) -> str:
        """The address at which a phone on the network reaches a server on this port, without the key."""
        ...

    def devices(self, folder: Path, now: float) -> Sequence[PairedDevice]:
        """The phones and links that may open the pages of this folder. now: Unix seconds."""
        ...

    def remove_device(self, folder: Path, device_id: str) -> bool:
        """Shuts a phone out or ends a link; False where there was none with this id."""
        ...

    def invitation(self, folder: Path) -> str:
        """The address with the key, and its QR code, for a terminal."""
        ...

    def view_only_link(self, folder: Path, name: str, now: float, valid_s: float) -> str:
        """The address of a link that lets this person look and not log. now: Unix seconds; valid_s: seconds."""
        ...

    def manual(self, words: str) -> Sequence[ManualPassage]:
        """The manual's passages that tell of these words, the nearest first; without words each page's beginning."""
        ...


def installed_pages() -> Pages:
    """The pages of the installed program. Raises PagesMissingError."""
    found = next(iter(entry_points(group=GROUP)), None)
    if found is None:
        raise PagesMissingError
    try:
        return cast(Pages, found.load())
    except ModuleNotFoundError:
        raise PagesMissingError from None
