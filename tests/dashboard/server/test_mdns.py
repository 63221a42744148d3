"""The name of the pages on the network, as another program's multicast DNS sees it."""

import socket
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from dataclasses import dataclass, field

import pytest
from zeroconf import IPVersion, ServiceBrowser, ServiceInfo, ServiceListener, Zeroconf

from dashboard.server.mdns import SERVICE, NetworkName
from tests.cli.processes import until

# Each waits for answers that do not come, because a name is free, for seconds.
pytestmark = pytest.mark.long
HERE = "127.0.0.1"
# Of another machine (RFC 5737).
THERE = "192.0.2.9"


def network_at(interface: str) -> Zeroconf:
    """The other program's end of multicast DNS, made in a thread of its own.

    Where browser tests ran before, the main thread looks as if an event loop ran in it, and the library would leave its
    work to that one.
    """
    with ThreadPoolExecutor(1) as apart:
        return apart.submit(Zeroconf, interfaces=[interface], ip_version=IPVersion.V4Only).result()


class Browser(ServiceListener):
    """A phone that looks for services."""

    def __init__(self, interface: str = HERE) -> None:
        self.found: dict[str, ServiceInfo] = {}
        self.gone: list[str] = []
        self.network = network_at(interface)
        ServiceBrowser(self.network, SERVICE, self)

    def add_service(self, zc: Zeroconf, type_: str, name: str) -> None:
        info = zc.get_service_info(type_, name)
        if info is not None:
            self.found[name.removesuffix(f".{SERVICE}")] = info

    def update_service(self, zc: Zeroconf, type_: str, name: str) -> None:
        self.add_service(zc, type_, name)

    def remove_service(self, zc: Zeroconf, type_: str, name: str) -> None:
        self.gone.append(name.removesuffix(f".{SERVICE}"))

    def close(self) -> None:
        """Ends it."""
        self.network.close()


@dataclass
class Pages:
    """A server that announces itself."""

    port: int = 8050
    address: str | None = HERE
    names: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    @contextmanager
    def announced(self) -> Iterator[NetworkName]:
        """Announces until the end of the block."""
        name = NetworkName(self.port, lambda: self.address, self.names.append, self.complaints.append)
        try:
            yield name
        finally:
            name.close()


@pytest.fixture
def browser() -> Iterator[Browser]:
    with closing(Browser()) as made:
        yield made


def test_the_pages_are_found_by_name_and_are_gone_at_the_end(browser: Browser) -> None:
    pages = Pages()
    with pages.announced():
        until(lambda: "kettleside" in browser.found)
        info = browser.found["kettleside"]
        assert (info.server, info.port, info.parsed_addresses()) == ("kettleside.local.", 8050, [HERE])
        assert info.properties[b"path"] == b"/"
        until(lambda: pages.names == ["kettleside.local"])
    until(lambda: browser.gone == ["kettleside"])
    assert pages.complaints == []


def test_two_on_one_network_have_two_names(browser: Browser) -> None:
    first, second = Pages(8050), Pages(8051)
    with first.announced():
        until(lambda: first.names == ["kettleside.local"])
        with second.announced():
            until(lambda: second.names == ["kettleside-2.local"])
            until(lambda: browser.found.keys() == {"kettleside", "kettleside-2"})
    assert {name: info.port for name, info in browser.found.items()} == {"kettleside": 8050, "kettleside-2": 8051}


def test_the_name_of_another_machine_is_left_to_it(browser: Browser) -> None:
    other = network_at(HERE)
    # It offers something else, and goes by the host name.
    info = ServiceInfo(
        "_ipp._tcp.local.",
        "Printer._ipp._tcp.local.",
        port=631,
        addresses=[socket.inet_aton(THERE)],
        server="kettleside.local.",
    )
    with closing(other):
        other.register_service(info)
        pages = Pages()
        with pages.announced():
            until(lambda: pages.names == ["kettleside-2.local"])
            until(lambda: "kettleside-2" in browser.found)


def test_a_network_that_comes_late_is_taken_when_it_is_there(browser: Browser) -> None:
    pages = Pages(address=None)
    with pages.announced() as name:
        pages.address = HERE
        name.look_again()
        until(lambda: "kettleside" in browser.found)
        pages.address = None
        name.look_again()
        until(lambda: browser.gone == ["kettleside"])
    assert pages.complaints == []


def test_what_fails_is_one_warning() -> None:
    pages = Pages(address=THERE)
    with pages.announced() as name:
        until(lambda: len(pages.complaints) == 1)
        pages.address = "no address"
        name.look_again()
        pages.address = HERE
        name.look_again()
        until(lambda: pages.names == ["kettleside.local"])
    assert len(pages.complaints) == 1
    assert pages.complaints[0].startswith("The pages have no name on this network (")
