"""Serial sources on real pseudo-terminals and real sockets."""

import os
import socket
import threading
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path

import pytest
import serial
from serial.rfc2217 import PortManager

from monitor.protocol import BadLine, Pack, parse_columns_spec
from monitor.sources import serial_discovery as search
from monitor.sources.opener import open_source
from monitor.sources.serial_port import SerialPort
from monitor.sources.source import Info, Lost, Restored
from monitor.sources.url import parse_source_url
from tests.sources.polling import CLOCK, Terminal, has, line, listen, opened, packs_of


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    made = Terminal()
    yield made
    made.close()


def values(heard: list[object]) -> list[float | None]:
    return [item.records[0].value for item in heard if isinstance(item, Pack)]


def test_packs_arrive_from_a_pseudo_terminal(terminal: Terminal) -> None:
    with closing(opened(f"serial://{terminal.path}")) as source:
        source.poll(0.0)
        before = CLOCK.now()
        for seq in range(5):
            terminal.send(line(60.0 + seq, seq))
        packs = packs_of(listen(source, has(Pack, 5)))
        assert [pack.records[0].value for pack in packs] == [60.0, 61.0, 62.0, 63.0, 64.0]
        assert all(before <= pack.arrived <= CLOCK.now() for pack in packs)


def test_a_symbolic_link_is_followed_when_its_port_changes(tmp_path: Path) -> None:
    """As a udev rule's stable name does."""
    first, second, link = Terminal(), Terminal(), tmp_path / "rig"
    link.symlink_to(first.path)
    with closing(opened(f"serial://{link}")) as source:
        source.poll(0.0)
        first.send(line(60.0, 1))
        listen(source, has(Pack))
        first.close()
        listen(source, has(Lost))
        link.unlink()
        link.symlink_to(second.path)
        back_s = CLOCK.real_s()
        heard = source.poll(0.0)
        while not packs_of(heard):
            second.send(line(61.0, 2))
            heard += source.poll(0.1)
        assert CLOCK.real_s() - back_s < 2.0
        assert isinstance(heard[0], Restored)
    second.close()


def test_noise_partial_lines_and_a_wrong_crc_give_no_reading(terminal: Terminal) -> None:
    with closing(opened(f"serial://{terminal.path}")) as source:
        source.poll(0.0)
        wrong = line(99.0, 3).replace(b"99.0", b"98.0")
        terminal.send(line(60.0, 1) + b"\xff\xfe\x00\n" + wrong + b'[{"n":"pas\n' + line(61.0, 2))
        heard = listen(source, has(Pack, 2))
        assert values(list(heard)) == [60.0, 61.0]
        assert sum(isinstance(item, BadLine) for item in heard) == 3


def test_a_partial_first_line_is_not_counted_as_bad(terminal: Terminal) -> None:
    with closing(opened(f"serial://{terminal.path}")) as source:
        source.poll(0.0)
        terminal.send(line(60.0, 1)[7:] + line(61.0, 2))
        assert values(list(listen(source, has(Pack)))) == [61.0]


def test_a_partial_row_of_bare_numbers_gives_no_reading(terminal: Terminal) -> None:
    url = parse_source_url(f"serial://{terminal.path}")
    with closing(open_source(url, CLOCK, parse_columns_spec("paste:Cel,ph:V"), "")) as source:
        source.poll(0.0)
        terminal.send(b".25,-0.1623\n94.50,-0.1600\n")
        heard = listen(source, has(Pack))
        assert values(list(heard)) == [94.5]


@pytest.mark.long
def test_the_source_recovers_from_fifty_unplugged_cables(tmp_path: Path) -> None:
    """Every time at another path; lost and back are each reported once, and back within 2 s."""
    link = tmp_path / "rig"
    with closing(opened(f"serial://{link}")) as source:
        (lost,) = listen(source, has(Lost))
        assert isinstance(lost, Lost)
        assert lost.reason == f"The port {link} is not there; look at the cable."
        for round_ in range(50):
            terminal = Terminal()
            link.unlink(missing_ok=True)
            link.symlink_to(terminal.path)
            back_s, heard = CLOCK.real_s(), source.poll(0.0)
            while not packs_of(heard):
                terminal.send(line(60.0, round_))
                heard += source.poll(0.05)
            assert CLOCK.real_s() - back_s < 2.0
            terminal.close()
            heard += listen(source, has(Lost))
            kinds = [type(item) for item in heard if not isinstance(item, Pack)]
            assert kinds in ([Restored, Lost], [Restored, BadLine, Lost])


def test_a_flood_of_lines_is_read_completely(terminal: Terminal) -> None:
    """10 000 lines as fast as the pseudo-terminal takes them, in pieces that cut lines anywhere."""
    os.set_blocking(terminal.rig, False)
    data, seqs = b"".join(line(60.0, seq) for seq in range(10_000)), list[int | None]()
    with closing(opened(f"serial://{terminal.path}")) as source:
        source.poll(0.0)
        while len(seqs) < 10_000:
            with suppress(BlockingIOError):
                data = data[os.write(terminal.rig, data[:3001]) :]
            seqs += [pack.seq for pack in packs_of(source.poll(0.0))]
    assert seqs == list(range(10_000))


def test_a_port_has_one_listener_only(terminal: Terminal) -> None:
    with closing(opened(f"serial://{terminal.path}")) as first, closing(opened(f"serial://{terminal.path}")) as second:
        first.poll(0.0)
        (lost,) = listen(second, has(Lost))
        assert isinstance(lost, Lost) and "held by another program" in lost.reason
        first.close()
        heard = second.poll(0.0)
        while not packs_of(heard):
            terminal.send(line(60.0, 1))
            heard += second.poll(0.1)


@pytest.mark.parametrize(
    ("path", "why"),
    [("/dev/null", "is no serial port"), ("/proc", "is no serial port"), ("/dev/nowhere", "is not there")],
)
def test_a_path_that_is_not_a_port_is_reported_in_one_sentence(path: str, why: str) -> None:
    with closing(opened(f"serial://{path}")) as source:
        (lost,) = listen(source, has(Lost))
        assert isinstance(lost, Lost) and why in lost.reason and lost.reason.endswith(".")


def test_auto_finds_the_port_that_sends_packs() -> None:
    silent, chatter, rig = Terminal(), Terminal(), Terminal()
    also = ",".join(terminal.path for terminal in (silent, chatter, rig))
    with closing(opened(f"serial://auto?also={also}")) as source:
        heard = source.poll(0.0)
        while not packs_of(heard):
            chatter.send(b"GPS fix lost\r\n")
            rig.send(line(60.0, 1))
            heard += source.poll(0.1)
        assert Info(f"The rig speaks on {rig.path}.") in heard
        assert not any(isinstance(item, BadLine) for item in heard)
        # The others are let go of.
        with closing(opened(f"serial://{chatter.path}")) as other:
            assert not any(isinstance(item, Lost) for item in other.poll(0.05))
        # Gone there, it is found again elsewhere.
        rig.close()
        listen(source, has(Lost))
        heard = source.poll(0.0)
        back_s = CLOCK.real_s()
        while not packs_of(heard):
            silent.send(line(61.0, 2))
            heard += source.poll(0.05)
        assert CLOCK.real_s() - back_s < 2.0
        assert [type(item) for item in heard[:2]] == [Restored, Info]
    silent.close()
    chatter.close()


def test_auto_lists_the_ports_it_tried_and_why_they_failed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(search, "GIVE_UP_AFTER_S", 0.5)
    silent, chatter = Terminal(), Terminal()
    with closing(opened(f"serial://auto?also={silent.path},{chatter.path},/dev/null,/dev/nowhere*")) as source:
        heard = source.poll(0.0)
        end_s = CLOCK.real_s() + 5.0
        while not heard and CLOCK.real_s() < end_s:
            chatter.send(b"GPS fix lost\r\n")
            heard += source.poll(0.2)
        (lost,) = heard
        assert isinstance(lost, Lost)
        assert f"{silent.path} is silent" in lost.reason
        assert f"{chatter.path} sends lines that are no packs" in lost.reason
        assert "/dev/null is no serial port" in lost.reason
    silent.close()
    chatter.close()


def test_packs_arrive_over_a_socket() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        url = f"serial+socket://127.0.0.1:{server.getsockname()[1]}"
        with closing(opened(url)) as source:
            source.poll(0.0)
            wire, _ = server.accept()
            wire.sendall(line(60.0, 1) + line(61.0, 2)[:9])
            listen(source, has(Pack))
            wire.close()
            heard = listen(source, has(Lost))
            assert isinstance(heard[0], BadLine) and heard[0].why == "it was cut short"
            source.poll(0.3)
            wire, _ = server.accept()
            wire.sendall(line(62.0, 3))
            heard = listen(source, has(Pack))
            assert isinstance(heard[0], Restored)
            wire.close()


# pyserial 3.5 still uses the old ways to name a thread and to make it a daemon.
@pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")
def test_packs_arrive_over_rfc2217() -> None:
    """Against pyserial's own server side of RFC 2217."""
    done = threading.Event()

    def serve(server: socket.socket) -> None:
        wire, _ = server.accept()
        with wire, serial.serial_for_url("loop://", timeout=0) as device:

            class Connection:
                def write(self, data: bytes) -> None:
                    wire.sendall(data)

            manager = PortManager(device, Connection())  # type: ignore[arg-type]
            wire.settimeout(0.05)
            number = 0
            while not done.is_set():
                with suppress(TimeoutError):
                    for _ in manager.filter(wire.recv(1024)):
                        pass
                number += 1
                wire.sendall(b"".join(manager.escape(line(60.0, number))))

    with socket.create_server(("127.0.0.1", 0)) as server:
        thread = threading.Thread(target=serve, args=(server,))
        thread.start()
        with closing(opened(f"serial+rfc2217://127.0.0.1:{server.getsockname()[1]}")) as source:
            packs = packs_of(listen(source, has(Pack, 3)))
            assert all(pack.records[0].value == 60.0 for pack in packs)
            done.set()
            listen(source, has(Lost))
        thread.join()


def test_a_board_that_loses_power_is_noticed_by_keep_alives() -> None:
    """It sends no goodbye, so the system has to ask (RFC 1122 section 4.2.3.6, TCP keep-alives)."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = SerialPort(f"socket://127.0.0.1:{server.getsockname()[1]}", 115200, CLOCK, None)
        number = port.fileno()
        assert number is not None
        with socket.socket(fileno=os.dup(number)) as same:
            assert same.getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE) == 1
            assert same.getsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPIDLE) == 1
        port.close()


def test_a_refused_connection_is_reported_in_one_sentence() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    with closing(opened(f"serial+socket://127.0.0.1:{port}")) as source:
        (lost,) = listen(source, has(Lost))
        assert isinstance(lost, Lost)
        assert lost.reason == f"The port socket://127.0.0.1:{port} refuses the connection."
