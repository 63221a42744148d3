"""Announces the pages on the local network under a name that phones find, by multicast DNS (RFC 6762, RFC 6763)."""

import asyncio
import socket
import threading
from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from zeroconf import ServiceInfo, Zeroconf

SERVICE = "_http._tcp.local."
USUAL_NAME = "kettleside"
MOST_NAMES = 20
# An answer that was just given to somebody else may take a second to be given again (RFC 6762, section 6).
ANSWER_WITHIN_MS = 1500
# How often the machine's address is looked at, because a network may come up late or give another one, and how long
# the end may take; real seconds.
LOOK_AGAIN_S = 30.0
END_WITHIN_S = 3.0


class NetworkName:
    """Keeps the pages announced, in a thread of its own, until ``close``; what fails is one warning.

    port: of the pages. address: gives the IPv4 address at which phones reach them, None where there is no network.
    on_name: takes the host name, such as kettleside.local, when it is first announced and when it changes.
    """

    def __init__(
        self,
        port: int,
        address: Callable[[], str | None],
        on_name: Callable[[str], None],
        complain: Callable[[str], None],
    ) -> None:
        self._port = port
        self._address = address
        self._on_name = on_name
        self._complain = complain
        self._complained = False
        self._name = ""
        self._announced: tuple[Zeroconf, ServiceInfo, str] | None = None
        self._wake, self._is_closed = threading.Event(), False
        self._thread = threading.Thread(target=self._run, name="mdns", daemon=True)
        self._thread.start()

    def look_again(self) -> None:
        """Looks at the machine's address now."""
        self._wake.set()

    def close(self) -> None:
        """Withdraws the announcement; returns within a few seconds."""
        self._is_closed = True
        self._wake.set()
        self._thread.join(END_WITHIN_S)

    def _run(self) -> None:
        while not self._is_closed:
            try:
                self._follow(self._address())
            except Exception as error:  # noqa: BLE001 - the pages do without a name, whatever a network does
                if not self._complained:
                    why = getattr(error, "strerror", None) or str(error) or type(error).__name__
                    self._complain(f"The pages have no name on this network ({why}); their number works.")
                self._complained = True
            self._wake.wait(LOOK_AGAIN_S)
            self._wake.clear()
        self._withdraw()

    def _follow(self, address: str | None) -> None:
        if self._announced is not None:
            if self._announced[2] == address:
                return
            self._withdraw()
        if address is None:
            return
        from zeroconf import IPVersion, Zeroconf

        # At an address that is not this machine's the library would fail too, and leave a socket open.
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.bind((address, 0))
        server = Zeroconf(interfaces=[address], ip_version=IPVersion.V4Only)
        try:
            info = self._free_name(server, address)
            server.register_service(info)
        except BaseException:
            server.close()
            raise
        self._announced = (server, info, address)
        name = info.server.rstrip(".") if info.server else ""
        if name != self._name:
            self._name = name
            self._on_name(name)

    def _free_name(self, server: "Zeroconf", address: str) -> "ServiceInfo":
        """The announcement under the first name that nobody else on the network has."""
        from zeroconf import ServiceInfo

        for number in range(1, MOST_NAMES + 1):
            name = USUAL_NAME if number == 1 else f"{USUAL_NAME}-{number}"
            if self._is_closed or not self._is_taken(server, name, address):
                break
        return ServiceInfo(
            SERVICE,
            f"{name}.{SERVICE}",
            port=self._port,
            addresses=[socket.inet_aton(address)],
            server=f"{name}.local.",
            properties={"path": "/"},
        )

    @staticmethod
    def _is_taken(server: "Zeroconf", name: str, address: str) -> bool:
        """Whether another program has this name, for its service or for a machine with another address.

        The library's own check asks for answers to one address, which on one machine reach one program alone.
        """
        import zeroconf

        # Exported, but not in the library's list of public names.
        of_host = zeroconf.AddressResolver(f"{name}.local.")  # type: ignore[attr-defined]
        of_service = zeroconf.ServiceInfo(SERVICE, f"{name}.{SERVICE}")

        async def both() -> tuple[bool, bool]:
            kind = zeroconf.DNSQuestionType.QM
            host, service = await asyncio.gather(
                *(one.async_request(server, ANSWER_WITHIN_MS, kind) for one in (of_host, of_service))
            )
            return host and address not in of_host.parsed_addresses(), service

        assert server.loop is not None
        return any(asyncio.run_coroutine_threadsafe(both(), server.loop).result(10.0))

    def _withdraw(self) -> None:
        announced, self._announced = self._announced, None
        if announced is not None:
            # It says goodbye for its services.
            announced[0].close()
