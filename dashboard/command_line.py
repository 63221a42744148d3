"""The pages as the command line uses them; pyproject.toml offers ``PAGES`` as an entry point."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from dashboard.auth.access_control import DashboardError, pairing_key, view_link
from dashboard.auth.access_list import AccessGrant, AccessList
from dashboard.components.manual_text import Passage, page_names, passages_of, search

if TYPE_CHECKING:
    from monitor.cli import Pages, ServeOptions


class InstalledPages:
    """Serves the pages of a folder of recordings and manages who may open them."""

    def serve(
        self, options: "ServeOptions", *, announce: Callable[[str], None], complain: Callable[[str], None]
    ) -> None:
        """Serves until SIGTERM or Ctrl-C. Raises DashboardError."""
        from dashboard.serve import Tls, serve

        serve(
            options.folder,
            host=options.host,
            port=options.port,
            announce=announce,
            complain=complain,
            tls=Tls(options.certificate, options.key) if options.tls else None,
            names=options.names,
            user=options.user,
            mdns=options.mdns,
        )

    def address(self, port: int) -> str:
        """The address at which a phone on the network reaches a server on this port, without the key."""
        from dashboard.serve import base_url

        return base_url("0.0.0.0", port)

    def devices(self, folder: Path, now: float) -> Sequence[AccessGrant]:
        """The phones and links that may open the pages. now: Unix seconds. Raises AccessListError."""
        return [grant for grant in AccessList(folder).grants() if grant.is_valid(now)]

    def remove_device(self, folder: Path, device_id: str) -> bool:
        """Shuts a phone out or ends a link; False where there was none with this id. Raises AccessListError."""
        return AccessList(folder).revoke(device_id)

    def invitation(self, folder: Path) -> str:
        """The address with the key, and its QR code, for a terminal. Raises DashboardError, AccessListError."""
        from dashboard.serve import qr_invitation

        address = _address(AccessList(folder))
        return qr_invitation(f"{address}/?key={quote(pairing_key(folder), safe='')}")

    def view_only_link(self, folder: Path, name: str, now: float, valid_s: float) -> str:
        """The address of a link that lets this person look and not log. Raises DashboardError, AccessListError."""
        access_list = AccessList(folder)
        address, key = _address(access_list), pairing_key(folder)
        return f"{address}{view_link(key, access_list.add(name, now, valid_s=valid_s))}"

    def manual(self, words: str) -> Sequence[Passage]:
        """The manual's passages that tell of these words, the nearest first; without words each page's beginning."""
        return search(words) if words else [passages_of(name)[0] for name in page_names()[1:]]


def _address(access_list: AccessList) -> str:
    if not access_list.address:
        raise DashboardError("The pages of this folder were never served; start kettleside first.")
    return access_list.address


PAGES: "Pages" = InstalledPages()
