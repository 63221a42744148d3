"""The MQTT source against a real mosquitto."""

import socket
import subprocess
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from monitor.protocol import BadLine, Pack
from monitor.runtime import Level
from monitor.sources import mqtt_client
from monitor.sources import tcp as network
from monitor.sources.mqtt_publisher import MqttPublisher
from monitor.sources.source import Info, Lost, Restored, Source, SourceItem
from monitor.sources.url import parse_source_url
from tests.sources.mosquitto import Mosquitto, Rig, Wire, free_port
from tests.sources.polling import CLOCK, has, listen, opened, packs_of

pytestmark = pytest.mark.broker
TOPIC = "kettleside/cooker/readings"


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    made = Mosquitto(tmp_path).start()
    yield made
    made.stop()


@pytest.fixture
def rig(broker: Mosquitto) -> Iterator[Rig]:
    made = Rig(broker.port)
    yield made
    made.close()


def subscribed(port: int, options: str = "", topic: str = TOPIC) -> Source:
    """A source whose subscription stands, so that a pack sent now is not missed."""
    source = opened(f"mqtt://127.0.0.1:{port}/{topic}{options}")
    probe = Rig(port)
    # A line that is no pack comes back once the broker has taken the subscription.
    probe.topic = topic.rsplit("/", 1)[0]
    heard: list[SourceItem] = []
    while not has(BadLine)(heard):
        probe.send("hello")
        heard += source.poll(0.1)
    while source.poll(0.1):
        pass
    probe.close()
    return source


def values(heard: list[SourceItem]) -> list[float | None]:
    return [pack.records[0].value for pack in packs_of(heard)]


def test_packs_are_told_apart_from_other_messages(broker: Mosquitto, rig: Rig) -> None:
    with closing(subscribed(broker.port, topic="kettleside/#")) as source:
        rig.send("hello", to="greeting")
        rig.send('{"t": 1}', to="outlook")
        rig.send("no pack")
        rig.send_pack(94.25, 1)
        heard = listen(source, has(Pack))
        assert [type(item) for item in heard] == [BadLine, Pack]
        assert values(heard) == [94.25]


def test_a_pack_is_acknowledged_only_after_it_is_stored(broker: Mosquitto, rig: Rig) -> None:
    source = subscribed(broker.port)
    rig.send_pack(60.0, 1)
    rig.send_pack(61.0, 2)
    first, _ = packs_of(listen(source, has(Pack, 2)))
    source.stored([first])
    source.close()
    # As after kill -9: a new process with the same identity.
    with closing(opened(source.url)) as again:
        heard = listen(again, has(Pack))
        assert values(heard) == [61.0]
        again.stored(packs_of(heard))
        assert values(again.poll(0.3)) == []


@pytest.mark.parametrize("version", ["5", "3.1.1"])
def test_packs_sent_while_the_logger_is_down_are_delivered_later(broker: Mosquitto, rig: Rig, version: str) -> None:
    source = subscribed(broker.port, f"?version={version}")
    source.close()
    for seq in range(300):
        rig.send_pack(60.0 + seq, seq)
    with closing(opened(source.url)) as again:
        got: list[SourceItem] = []
        while len(packs_of(got)) < 300:
            heard = listen(again, has(Pack))
            again.stored(packs_of(heard))
            got += heard
        assert values(got) == [60.0 + seq for seq in range(300)]


@pytest.mark.parametrize("version", ["5", "3.1.1"])
def test_a_redelivered_pack_is_counted_once(broker: Mosquitto, rig: Rig, version: str) -> None:
    """The acknowledgement is lost with the network; the pack neither counts nor times itself."""
    wire = Wire(broker.port)
    with closing(subscribed(wire.port, f"?version={version}")) as source:
        wire.swallow()
        rig.send_pack(60.0)
        rig.send_pack(61.0)
        first, second = packs_of(listen(source, has(Pack, 2)))
        source.stored([first])
        wire.cut()
        heard = listen(source, has(Lost))
        source.stored([second])
        rig.send_pack(62.0)
        heard += listen(source, has(Pack))
        assert values(heard) == [62.0]
        source.stored(packs_of(heard))
        assert values(source.poll(0.5)) == []
        rig.send_pack(62.0)
        assert values(listen(source, has(Pack))) == [62.0]
    wire.close()


@pytest.mark.parametrize("persistent", [True, False])
def test_the_source_reconnects_within_two_seconds_of_the_brokers_return(tmp_path: Path, persistent: bool) -> None:
    lines = ["allow_anonymous true"]
    if persistent:
        lines += ["persistence true", f"persistence_location {tmp_path}/"]
    broker = Mosquitto(tmp_path, *lines).start()
    with closing(subscribed(broker.port)) as source:
        for round_ in range(2):
            broker.stop()
            (lost,) = [item for item in listen(source, has(Lost)) if isinstance(item, Lost)][:1]
            assert lost.reason.startswith("The broker 127.0.0.1") or lost.reason.startswith("The connection")
            # The next tries fail, each a little later than the one before.
            source.poll(1.0)
            source.poll(1.0)
            broker.start()
            back_s = CLOCK.real_s()
            rig = Rig(broker.port)
            heard: list[SourceItem] = []
            while not packs_of(heard):
                rig.send_pack(60.0, round_)
                heard += source.poll(0.1)
            assert CLOCK.real_s() - back_s < 2.0
            assert sum(isinstance(item, Restored) for item in heard) == 1
            source.stored(packs_of(heard))
            rig.close()
    broker.stop()


@pytest.mark.parametrize("version", ["5", "3.1.1"])
def test_a_stalled_network_is_noticed_and_loses_no_pack(
    broker: Mosquitto, rig: Rig, monkeypatch: pytest.MonkeyPatch, version: str
) -> None:
    """Connections stay open, also new ones, but nothing passes; longer and oftener by ``tests.bench.cut_off``."""
    monkeypatch.setattr(mqtt_client, "KEEPALIVE_S", 1)
    wire = Wire(broker.port)
    with closing(subscribed(wire.port, f"?version={version}")) as source:
        wire.stall()
        rig.send_pack(60.0, 1)
        heard = listen(source, has(Lost))
        # The next tries are taken by the wire and answered by nobody.
        heard += [*source.poll(1.5), *source.poll(1.5)]
        assert all(isinstance(item, Lost) for item in heard)
        wire.flow()
        back_s = CLOCK.real_s()
        rig.send_pack(61.0, 2)
        heard = listen(source, has(Pack, 2))
        assert CLOCK.real_s() - back_s < 2.0
        assert values(heard) == [60.0, 61.0] and isinstance(heard[0], Restored)
        source.stored(packs_of(heard))
        assert values(source.poll(0.5)) == []
    wire.close()


def test_tcp_keep_alive_and_user_timeout_are_set(broker: Mosquitto) -> None:
    """RFC 1122 section 4.2.3.6 (keep-alives) and RFC 5482 (user timeout), as Linux's tcp(7) has them."""
    with socket.create_connection(("127.0.0.1", broker.port)) as made:
        network.limit_unanswered(made)
        assert made.getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE) == 1
        assert made.getsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT) == network.UNANSWERED_MS


def test_a_wrong_password_is_one_sentence_and_may_be_corrected(tmp_path: Path) -> None:
    passwords = tmp_path / "passwords"
    subprocess.run(["mosquitto_passwd", "-b", "-c", str(passwords), "anna", "sesame"], check=True)
    broker = Mosquitto(tmp_path, "allow_anonymous false", f"password_file {passwords}").start()
    secret = tmp_path / "secret"
    secret.write_text("wrong\n")
    with closing(opened(f"mqtt://anna@127.0.0.1:{broker.port}/{TOPIC}?password_file={secret}")) as source:
        (lost,) = listen(source, has(Lost))
        assert isinstance(lost, Lost)
        assert lost.reason == f"The broker 127.0.0.1:{broker.port} refuses the user anna with this password."
        assert source.poll(1.5) == []
        secret.write_text("sesame\n")
        back_s = CLOCK.real_s()
        rig = Rig(broker.port, user="anna", password="sesame")
        heard: list[SourceItem] = []
        while not packs_of(heard):
            rig.send_pack(60.0)
            heard += source.poll(0.1)
        assert CLOCK.real_s() - back_s < 2.0
        assert isinstance(heard[0], Restored)
        rig.close()
    broker.stop()


def test_the_password_may_come_from_the_environment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    passwords = tmp_path / "passwords"
    subprocess.run(["mosquitto_passwd", "-b", "-c", str(passwords), "anna", "sesame"], check=True)
    broker = Mosquitto(tmp_path, "allow_anonymous false", f"password_file {passwords}").start()
    with closing(opened(f"mqtt://127.0.0.1:{broker.port}/{TOPIC}")) as source:
        (lost,) = listen(source, has(Lost))
        assert isinstance(lost, Lost) and "wants a user and a password" in lost.reason
    monkeypatch.setenv("KETTLESIDE_MQTT_PASSWORD", "sesame")
    rig = Rig(broker.port, user="anna", password="sesame")
    with closing(opened(f"mqtt://anna@127.0.0.1:{broker.port}/{TOPIC}")) as source:
        heard: list[SourceItem] = []
        while not packs_of(heard):
            rig.send_pack(60.0)
            heard += source.poll(0.1)
        assert not any(isinstance(item, Lost) for item in heard)
    rig.close()
    broker.stop()


def openssl(*words: str | Path) -> None:
    subprocess.run(["openssl", *map(str, words)], check=True, capture_output=True)


def make_certificates(folder: Path) -> None:
    """An authority of the kitchen's own, a certificate for the broker, one for the monitor."""
    openssl(
        *("req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=Kitchen authority"),
        *("-addext", "basicConstraints=critical,CA:TRUE", "-addext", "keyUsage=critical,keyCertSign,cRLSign"),
        *("-keyout", folder / "ca.key", "-out", folder / "ca.pem"),
    )
    for name, alternative in (("broker", "IP:127.0.0.1"), ("monitor", "DNS:monitor")):
        extensions = folder / f"{name}.ext"
        extensions.write_text(
            f"subjectAltName={alternative}\nauthorityKeyIdentifier=keyid\nsubjectKeyIdentifier=hash\n"
        )
        openssl(
            *("req", "-newkey", "rsa:2048", "-nodes", "-subj", f"/CN={name}"),
            *("-keyout", folder / f"{name}.key", "-out", folder / f"{name}.csr"),
        )
        openssl(
            *("x509", "-req", "-in", folder / f"{name}.csr", "-CA", folder / "ca.pem", "-CAkey", folder / "ca.key"),
            *("-CAcreateserial", "-days", "2", "-extfile", extensions, "-out", folder / f"{name}.pem"),
        )


# paho leaves the socket of a failed handshake to the garbage collector.
@pytest.mark.filterwarnings("ignore:unclosed <ssl:ResourceWarning")
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_tls_with_a_private_authority_and_a_client_certificate(tmp_path: Path) -> None:
    make_certificates(tmp_path)
    plain_port = free_port()
    broker = Mosquitto(
        tmp_path,
        "allow_anonymous true",
        f"listener {plain_port} 127.0.0.1",
        listener=(
            f"cafile {tmp_path}/ca.pem",
            f"certfile {tmp_path}/broker.pem",
            f"keyfile {tmp_path}/broker.key",
            "require_certificate true",
        ),
    ).start()
    base = f"mqtts://127.0.0.1:{broker.port}/{TOPIC}"
    own = f"cert={tmp_path}/monitor.pem&key={tmp_path}/monitor.key"
    rig = Rig(plain_port)
    with closing(opened(f"{base}?ca={tmp_path}/ca.pem&{own}")) as source:
        heard: list[SourceItem] = []
        while not packs_of(heard):
            rig.send_pack(60.0)
            heard += source.poll(0.1)
        assert not any(isinstance(item, Lost) for item in heard)
    for options, why in [
        (f"?{own}", "is not trusted"),
        (f"?ca={tmp_path}/nowhere.pem&{own}", "There is no file"),
        (f"?ca={tmp_path}/broker.key&{own}", "cannot be used"),
    ]:
        with closing(opened(base + options)) as source:
            (lost,) = listen(source, has(Lost))
            assert isinstance(lost, Lost) and why in lost.reason and "\n" not in lost.reason
    rig.close()
    broker.stop()


def test_the_rigs_last_will_reports_a_loss_and_its_next_pack_the_return(broker: Mosquitto) -> None:
    with closing(subscribed(broker.port)) as source:
        rig = Rig(broker.port)
        rig.send("online", to="status", retained=True)
        rig.send_pack(60.0, 1)
        assert not any(isinstance(item, Lost) for item in listen(source, has(Pack)))
        rig.vanish()
        (lost,) = listen(source, has(Lost))
        assert isinstance(lost, Lost) and lost.reason == "The rig cooker is offline."
        rig = Rig(broker.port)
        rig.send_pack(61.0, 2)
        heard = listen(source, has(Pack))
        assert [type(item) for item in heard] == [Restored, Pack]
        rig.close()


def retained(t: float | None, seq: int = 900) -> str:
    """A pack as a broker would keep it, with this time or none."""
    time = "" if t is None else f',"t":{t}'
    return f'[{{"n":"paste","u":"Cel","v":20{time}}},{{"n":"seq","u":"count","v":{seq}}}]'


@pytest.mark.parametrize("age_s", [None, 86_000.0, 7200.0, -7200.0])
def test_an_old_retained_pack_is_ignored(broker: Mosquitto, rig: Rig, age_s: float | None) -> None:
    """A broker keeps it for ever and hands it to whoever subscribes anew (MQTT 3.1.1 section 3.3.1.3)."""
    rig.send(retained(None if age_s is None else CLOCK.now() - age_s), retained=True)
    with closing(opened(f"mqtt://127.0.0.1:{broker.port}/{TOPIC}")) as source:
        (remark,) = listen(source, has(Info))
        assert isinstance(remark, Info) and "passed over" in remark.text


def test_a_retained_pack_with_relative_times_is_ignored(broker: Mosquitto, rig: Rig) -> None:
    rig.send(retained(-1.0), retained=True)
    with closing(opened(f"mqtt://127.0.0.1:{broker.port}/{TOPIC}")) as source:
        (remark,) = listen(source, has(Info))
        assert isinstance(remark, Info) and "passed over" in remark.text


def test_a_recent_retained_pack_is_accepted_without_its_sequence_number(broker: Mosquitto, rig: Rig) -> None:
    at = CLOCK.now() - 10.0
    rig.send(retained(at), retained=True)
    with closing(opened(f"mqtt://127.0.0.1:{broker.port}/kettleside/+/readings")) as source:
        (pack,) = packs_of(listen(source, has(Pack)))
        assert pack.records[0].time == pytest.approx(at) and pack.seq is None


def test_an_old_broker_is_reached_by_mqtt_3_1_1() -> None:
    """A 3.1.1 broker refuses protocol level 5 with return code 1 (MQTT 3.1.1 section 3.1.2.2)."""
    levels: list[int] = []

    def serve(server: socket.socket) -> None:
        while 4 not in levels:
            connection, _ = server.accept()
            with connection:
                request = connection.recv(1024)
                # Fixed header, "MQTT" with its length, then the level.
                levels.append(request[8])
                connection.sendall(b"\x20\x02\x00" + (b"\x00" if request[8] == 4 else b"\x01"))

    with socket.create_server(("127.0.0.1", 0)) as server:
        thread = threading.Thread(target=serve, args=(server,), daemon=True)
        thread.start()
        with closing(opened(f"mqtt://127.0.0.1:{server.getsockname()[1]}/{TOPIC}")) as source:
            end_s = CLOCK.real_s() + 5.0
            while thread.is_alive() and CLOCK.real_s() < end_s:
                source.poll(0.1)
        thread.join(1.0)
    assert levels[:2] == [5, 4]


def test_a_server_that_is_not_a_broker_is_reported_and_retried() -> None:
    def serve(server: socket.socket) -> None:
        for _ in range(3):
            connection, _ = server.accept()
            connection.recv(1024)
            connection.sendall(b"HTTP/1.1 400 Bad Request\r\n\r\n" * 50)
            connection.close()

    with socket.create_server(("127.0.0.1", 0)) as server:
        threading.Thread(target=serve, args=(server,), daemon=True).start()
        with closing(opened(f"mqtt://127.0.0.1:{server.getsockname()[1]}/{TOPIC}")) as source:
            heard = listen(source, has(Lost))
            assert all(isinstance(item, Lost) for item in heard)


def test_the_monitors_messages_are_published_when_the_broker_is_back(broker: Mosquitto) -> None:
    said: list[str] = []

    def say(text: str, level: Level = Level.NOTE, /) -> None:
        said.append(text)

    url = parse_source_url(f"mqtt://127.0.0.1:{broker.port}/{TOPIC}")
    broker.stop()
    with closing(MqttPublisher(url, CLOCK, say)) as outbox:
        outbox.tend()
        outbox.publish("kettleside/cooker/outlook", "old", retained=True)
        outbox.publish("kettleside/cooker/outlook", "new", retained=True)
        outbox.publish("kettleside/cooker/notice", '{"notice":"stir due"}')
        broker.start()
        rig = Rig(broker.port)
        rig.subscribe("kettleside/cooker/+")
        end_s = CLOCK.real_s() + 5.0
        while len(rig.got) < 2 and CLOCK.real_s() < end_s:
            outbox.tend()
            rig.heard.wait(0.05)
            rig.heard.clear()
        assert rig.got == {"kettleside/cooker/outlook": b"new", "kettleside/cooker/notice": b'{"notice":"stir due"}'}
        rig.close()
    assert len(said) >= 1 and "refuses the connection" in said[0]
