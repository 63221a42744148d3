"""What other people's sensors publish, read from a real mosquitto."""

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from monitor.protocol import BadLine, Pack, parse_columns_spec
from monitor.sources import Source, SourceItem, open_source, parse_source_url, parse_source_urls
from monitor.sources.source import Info
from tests.sources.mosquitto import Mosquitto, Rig
from tests.sources.polling import CLOCK, has, listen, packs_of

pytestmark = pytest.mark.broker


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    made = Mosquitto(tmp_path).start()
    yield made
    made.stop()


@pytest.fixture
def sensor(broker: Mosquitto) -> Iterator[Rig]:
    made = Rig(broker.port)
    yield made
    made.close()


def publish(sensor: Rig, topic: str, payload: str | bytes, *, retained: bool = False) -> None:
    sensor.topic, _, last = topic.rpartition("/")
    sensor.send(payload, to=last, retained=retained)


def subscribed(source: Source, sensor: Rig, *topics: str) -> Source:
    """The source when it hears each of these topics: what it cannot read comes back as a bad line."""
    for topic in topics:
        heard: list[SourceItem] = []
        while not has(BadLine)(heard):
            publish(sensor, topic, "hello there")
            heard += source.poll(0.1)
    while source.poll(0.1):
        pass
    return source


def opened(broker: Mosquitto, *paths: str) -> Source:
    urls = parse_source_urls(f"mqtt://127.0.0.1:{broker.port}/{path}" for path in paths)
    return open_source(urls, CLOCK, None, "test")


def readings(items: list[SourceItem]) -> list[tuple[str, str, float | None]]:
    return [(one.channel, one.unit, one.value) for pack in packs_of(items) for one in pack.records]


@pytest.mark.parametrize(
    ("path", "topic", "payload", "expected"),
    [
        ("pot/temp?channel=paste:Cel", "pot/temp", "93.5", [("paste", "Cel", 93.5)]),
        ("pot/temp?channel=paste", "pot/temp", "200.3 °F", [("paste", "°F", 200.3)]),
        ("sensor/+/temperature?channel=paste:Cel", "sensor/7/temperature", "93.5 C", [("paste", "C", 93.5)]),
        ("a%20b/c%3Fd?channel=paste:Cel", "a b/c?d", "93.5", [("paste", "Cel", 93.5)]),
        (
            "kitchen/probe?field=temperature:paste:Cel&field=ds18b20.Temperature:wall:Cel",
            "kitchen/probe",
            '{"temperature": 93.5, "battery": 80, "ds18b20": {"Temperature": 97.25}}',
            [("paste", "Cel", 93.5), ("wall", "Cel", 97.25)],
        ),
        ("x/row?columns=paste:Cel,ph:V", "x/row", "94.25;-0.1623", [("paste", "Cel", 94.25), ("ph", "V", -0.1623)]),
        # The last level is a rig's own word only where packs are read.
        ("pot/status?channel=paste:Cel", "pot/status", "93.5", [("paste", "Cel", 93.5)]),
        ("pot/readings?channel=paste:Cel", "pot/readings", "93.5", [("paste", "Cel", 93.5)]),
    ],
)
def test_what_the_url_announces_is_read(
    broker: Mosquitto, sensor: Rig, path: str, topic: str, payload: str, expected: list[tuple[str, str, float]]
) -> None:
    with closing(subscribed(opened(broker, path), sensor, topic)) as source:
        publish(sensor, topic, payload)
        assert readings(listen(source, has(Pack))) == expected


def test_columns_may_be_announced_beside_the_url(broker: Mosquitto, sensor: Rig) -> None:
    url = parse_source_url(f"mqtt://127.0.0.1:{broker.port}/x/row")
    layout = parse_columns_spec("paste:degF,room:Cel")
    with closing(subscribed(open_source(url, CLOCK, layout, "test"), sensor, "x/row")) as source:
        publish(sensor, "x/row", "200.5,21")
        assert readings(listen(source, has(Pack))) == [("paste", "degF", 200.5), ("room", "Cel", 21.0)]


def test_several_topics_are_one_cook(broker: Mosquitto, sensor: Rig) -> None:
    paths = ("a/paste?channel=paste:Cel", "b/json?field=t:wall:Cel", "kettleside/cooker/readings")
    with closing(
        subscribed(opened(broker, *paths), sensor, "a/paste", "b/json", "kettleside/cooker/readings")
    ) as source:
        publish(sensor, "a/paste", "93.5")
        publish(sensor, "b/json", '{"t": 97}')
        publish(sensor, "kettleside/cooker/readings", '[{"n":"room","u":"Cel","v":21}]')
        heard = listen(source, has(Pack, 3))
        assert sorted(readings(heard)) == [("paste", "Cel", 93.5), ("room", "Cel", 21.0), ("wall", "Cel", 97.0)]
        source.stored(packs_of(heard))


def test_a_wrong_payload_is_told_with_what_would_do(broker: Mosquitto, sensor: Rig) -> None:
    with closing(subscribed(opened(broker, "pot/temp?channel=paste:Cel"), sensor, "pot/temp")) as source:
        for payload in ("on", '{"temperature": 93.5}', b"\xff\xfe\x00", b"9" * 70_000):
            publish(sensor, "pot/temp", payload)
        bad = [item.why for item in listen(source, has(BadLine, 4)) if isinstance(item, BadLine)]
    assert bad[0] == "it is 'on' and not a value such as 93.5 or 93.5 C"
    assert bad[1].endswith("say which of its fields to read, such as field=temperature:paste:Cel")
    assert bad[2:] == ["it is not UTF-8", "it is longer than 65536 bytes"]


def test_what_is_no_pack_is_told_how_it_would_be_read(broker: Mosquitto, sensor: Rig) -> None:
    with closing(subscribed(opened(broker, "pot/temp"), sensor, "pot/temp")) as source:
        publish(sensor, "pot/temp", "93.5 C")
        (bad,) = [item for item in listen(source, has(BadLine)) if isinstance(item, BadLine)]
        assert bad.why == "it is not JSON; a plain value is read by such as channel=paste:Cel"


def test_other_messages_under_a_wildcard_for_all_are_passed_over(broker: Mosquitto, sensor: Rig) -> None:
    source = opened(broker, "home/#?field=temperature:paste:Cel")
    with closing(source):
        heard: list[SourceItem] = []
        while not has(Pack)(heard):
            publish(sensor, "home/light", "on")
            publish(sensor, "home/probe", '{"temperature": 93.5}')
            heard += source.poll(0.1)
        assert not has(BadLine)(heard)


def test_one_channel_from_two_topics_is_told_once(broker: Mosquitto, sensor: Rig) -> None:
    with closing(subscribed(opened(broker, "s/+/t?channel=paste:Cel"), sensor, "s/a/t")) as source:
        for _ in range(2):
            publish(sensor, "s/a/t", "93.5")
            publish(sensor, "s/b/t", "21.0")
        told = [item.text for item in listen(source, has(Pack, 4)) if isinstance(item, Info)]
    assert told == ["Two topics send paste, s/a/t and s/b/t: name one of them in the source, not both."]


def test_a_retained_value_may_be_of_any_day(broker: Mosquitto, sensor: Rig) -> None:
    publish(sensor, "pot/temp", "20.0", retained=True)
    with closing(opened(broker, "pot/temp?channel=paste:Cel")) as source:
        (told,) = [item for item in listen(source, has(Info)) if isinstance(item, Info)]
        assert told.text == "A retained pack on pot/temp was passed over: it may be of any day."
        publish(sensor, "pot/temp", "93.5", retained=True)
        assert readings(listen(source, has(Pack))) == [("paste", "Cel", 93.5)]


def test_values_that_cannot_tell_their_time_are_not_kept_by_the_broker(broker: Mosquitto, sensor: Rig) -> None:
    path = "pot/temp?channel=paste:Cel"
    subscribed(opened(broker, path), sensor, "pot/temp").close()
    publish(sensor, "pot/temp", "20.0")
    with closing(subscribed(opened(broker, path), sensor, "pot/temp")) as source:
        publish(sensor, "pot/temp", "93.5")
        assert readings(listen(source, has(Pack))) == [("paste", "Cel", 93.5)]
