"""Several sources of one cook, read as one."""

from collections.abc import Iterable
from contextlib import closing
from dataclasses import replace

from monitor.protocol import Pack, parse_pack
from monitor.sources import Source, SourceItem, open_source, parse_source_urls
from monitor.sources.several import SeveralSources
from monitor.sources.source import Lost, Restored
from tests.sources.polling import CLOCK, Terminal, has, listen, packs_of


class Told:
    """A source that says what it is told to, and remembers which deliveries were stored."""

    def __init__(self, url: str, window: int, *items: SourceItem) -> None:
        self.url, self.window, self.port = url, window, None
        self.items = list(items)
        self.acknowledged: list[int | None] = []
        self.closed = False

    def poll(self, timeout_s: float) -> list[SourceItem]:
        items, self.items = self.items, []
        return items

    def stored(self, packs: Iterable[Pack]) -> None:
        self.acknowledged += [pack.delivery for pack in packs]

    def close(self) -> None:
        self.closed = True


def sent(delivery: int | None, seq: int) -> Pack:
    text = f'[{{"n":"paste","u":"Cel","v":90}},{{"n":"seq","u":"count","v":{seq}}}]'
    return replace(parse_pack(text, 1.0), delivery=delivery)


def test_each_source_is_told_of_its_own_packs_alone() -> None:
    first, second = Told("a", 10, sent(1, 7), sent(2, 8)), Told("b", 4, sent(1, 900))
    both: Source = SeveralSources([first, second])
    packs = packs_of(both.poll(0.0))
    assert len({pack.delivery for pack in packs}) == 3
    # The count of the second would look like packs lost from the first.
    assert [pack.seq for pack in packs] == [7, 8, None]
    both.stored([packs[2], packs[0]])
    both.stored([sent(None, 1)])
    assert (first.acknowledged, second.acknowledged) == ([1], [1])
    assert (both.url, both.window) == ("a", 4)
    both.close()
    assert first.closed and second.closed


def test_restored_is_reported_when_all_speak_again() -> None:
    first, second = Told("a", 1, Lost("a is gone.", 1.0)), Told("b", 1, Lost("b is gone.", 1.0))
    both = SeveralSources([first, second])
    assert [type(item) for item in both.poll(0.0)] == [Lost, Lost]
    first.items = [Restored(2.0)]
    assert both.poll(0.0) == []
    second.items = [Restored(3.0)]
    assert both.poll(0.0) == [Restored(3.0)]


def test_two_terminals_are_read_as_one_rig() -> None:
    paste, room = Terminal(), Terminal()
    urls = parse_source_urls([f"{paste.path}?channel=paste", f"serial://{room.path}?field=t:room:degF"])
    with closing(open_source(urls, CLOCK, None, "test")) as source:
        source.poll(0.0)
        # The first line of a stream that is joined midway is not trusted.
        paste.send(b"\n93.5 C\n")
        room.send(b'\n{"t": 70.1, "h": 40}\n')
        heard = listen(source, has(Pack, 2))
    found = {record.channel: (record.value, record.unit) for pack in packs_of(heard) for record in pack.records}
    assert found == {"paste": (93.5, "C"), "room": (70.1, "degF")}
    paste.close()
    room.close()
