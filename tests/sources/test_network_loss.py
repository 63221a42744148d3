"""The MQTT source across a network of real hosts: packets lost, silence, a link that is down, a new address."""

import socket
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing
from pathlib import Path

import pytest

from monitor.protocol import Pack
from monitor.sources.source import Lost, Restored
from monitor.sources.tcp import has_lost_its_address
from tests.sources.mosquitto import Mosquitto, Rig
from tests.sources.network_namespaces import BROKER_BY_AIR, BROKER_BY_CABLE, HostApart
from tests.sources.polling import CLOCK, has, listen, opened, packs_of

pytestmark = pytest.mark.network
WITHIN_S = 2.0


@pytest.fixture
def host() -> Iterator[HostApart]:
    with HostApart() as made:
        yield made


def silent(host: HostApart) -> Callable[[], None]:
    host.lose(100)
    return lambda: host.lose(0)


def lossy(host: HostApart) -> Callable[[], None]:
    host.lose(20)
    return lambda: host.lose(0)


def unplugged(host: HostApart) -> Callable[[], None]:
    host.link("down")
    return lambda: host.link("up")


def moved(host: HostApart) -> Callable[[], None]:
    host.move()
    return lambda: None


@pytest.mark.parametrize("trouble", [silent, lossy, unplugged, moved])
def test_no_pack_is_lost_and_the_source_reconnects_within_two_seconds(
    tmp_path: Path, host: HostApart, trouble: Callable[[HostApart], Callable[[], None]]
) -> None:
    tmp_path.chmod(0o777)
    broker = Mosquitto(tmp_path, host="0.0.0.0", started_by=host.started_by).start()
    with ExitStack() as ends:
        ends.callback(broker.stop)
        rig = ends.enter_context(closing(Rig(broker.port, host=BROKER_BY_CABLE)))
        source = ends.enter_context(closing(opened(f"mqtt://{BROKER_BY_AIR}:{broker.port}/kettleside/cooker/readings")))
        heard: list[object] = []
        seq = 0
        # What is sent before the subscription stands goes nowhere.
        while not packs_of(heard):  # type: ignore[arg-type]
            rig.send_pack(60.0, 0)
            heard += source.poll(0.2)
        source.stored(packs_of(heard))  # type: ignore[arg-type]
        end = trouble(host)
        for seq in range(1, 21):
            rig.send_pack(60.0 + seq, seq)
            heard += source.poll(0.1)
        end()
        back_s = CLOCK.real_s()
        rig.send_pack(60.0 + seq + 1, seq + 1)
        got = {pack.seq for pack in packs_of(heard)}  # type: ignore[arg-type]
        while not set(range(1, 22)) <= got:
            late = listen(source, has(Pack))
            source.stored(packs_of(late))
            got |= {pack.seq for pack in packs_of(late)}
            heard += late
        assert CLOCK.real_s() - back_s < WITHIN_S
        assert got <= set(range(22))
        assert sum(isinstance(item, Lost) for item in heard) == sum(isinstance(item, Restored) for item in heard) <= 1


def test_a_removed_ip_address_is_noticed(host: HostApart) -> None:
    """A bind to an address that no interface has fails with EADDRNOTAVAIL (ip(7))."""
    with (
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as way,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as made,
    ):
        way.connect((BROKER_BY_AIR, 9))
        made.bind((*way.getsockname()[:1], 0))
        assert not has_lost_its_address(made)
        host.move()
        assert has_lost_its_address(made)
