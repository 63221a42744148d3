"""Rigs with wrong names and units, on real bytes, and how soon what they send is told of.

Bytes go through a pseudo-terminal or a broker into the source that ``kettleside log`` opens, then into a recording,
and the cook's page is asked. Only cook time jumps: a second a pack.
"""

import json
import tempfile
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from monitor.protocol import BadLine, Pack, parse_columns_spec, parse_renamings
from monitor.runtime import Anchor, SystemClock
from monitor.session import Cook
from monitor.sources import Source, SourceItem, open_source, parse_source_url
from monitor.storage import Recorder
from tests.sources.mosquitto import Mosquitto, Rig
from tests.sources.polling import Terminal, has, listen, packs_of

HOT_C, WALL_C = 103.0, 108.0
LONGEST_S, ASK_EVERY_S = 300, 5
START = 1_773_480_000.0
NEAR_BOIL, NO_PASTE = "near boil-over", "no paste temperature"


class StepClock(SystemClock):
    """Cook time goes by steps, while a source's patience with the outside is real."""

    def __init__(self, anchor: Anchor | None = None) -> None:
        super().__init__(anchor)
        self.moment = START

    def now(self) -> float:
        return self.moment

    def anchor(self) -> Anchor:
        return Anchor(self.moment, self.moment, "", 0.0)


@dataclass(frozen=True)
class WrongRig:
    """A rig with its paste at 103 degC. paste: the name, unit and value that it sends for it; unit None: none.

    columns: it prints bare numbers. renamings: as ``--as`` has them. alarm_s: when what is not understood has its alarm,
    seconds of the cook: two minutes, one where the value may be that of a paste near its boil.
    """

    name: str
    paste: tuple[str, str | None, float]
    renamings: tuple[str, ...] = ()
    columns: str | None = None

    @property
    def alarm_s(self) -> float:
        return 60.0 if self.paste[2] >= HOT_C else 120.0

    def line(self, second: int) -> bytes:
        """What it sends in one second, for a broker and a cable alike."""
        name, unit, value = self.paste
        value += 0.02 * (second % 7)
        if self.columns is not None:
            return f"{value:.2f},{WALL_C}".encode()
        record = {"n": name, "v": round(value, 2)} | ({} if unit is None else {"u": unit})
        wall = {"n": "wall", "u": "Cel", "v": WALL_C + 0.01 * (second % 5)}
        return json.dumps([record, wall, {"n": "seq", "u": "count", "v": second}], ensure_ascii=False).encode()


RIGHT = WrongRig("paste in Cel", ("paste", "Cel", HOT_C))
UNDERSTOOD = (
    *(WrongRig(f"paste in {unit}", ("paste", unit, HOT_C)) for unit in ("C", "°C", "degC", "deg C")),
    *(WrongRig(f"paste in {unit}", ("paste", unit, HOT_C * 1.8 + 32.0)) for unit in ("F", "°F", "degF")),
    WrongRig("paste in K", ("paste", "K", HOT_C + 273.15)),
    WrongRig("Paste in Cel", ("Paste", "Cel", HOT_C)),
    WrongRig("PASTE in C", ("PASTE", "C", HOT_C)),
    WrongRig("temp1 in C, --as temp1=paste", ("temp1", "C", HOT_C), ("temp1=paste",)),
    WrongRig("temp1, no unit, --as temp1=paste:degF", ("temp1", None, HOT_C * 1.8 + 32.0), ("temp1=paste:degF",)),
)
BARE = WrongRig("bare, --columns paste:degF,wall:C", ("", None, HOT_C * 1.8 + 32.0), columns="paste:degF,wall:C")
REFUSED = (
    WrongRig("paste without a unit", ("paste", None, HOT_C)),
    WrongRig("paste in foo", ("paste", "foo", HOT_C)),
    WrongRig("paste in mV", ("paste", "mV", 4.2)),
    WrongRig("temp1 in C", ("temp1", "C", HOT_C)),
    WrongRig("temp1 without a unit", ("temp1", None, HOT_C)),
)


@dataclass(frozen=True)
class Told:
    """What was told. name: of the first condition of this trouble; after_s: seconds of the cook from its first pack."""

    name: str | None
    after_s: float
    words: str
    standing: tuple[str, ...]


def open_rig(url: str, rig: WrongRig, clock: StepClock) -> Source:
    """The source that ``kettleside log`` would open for it."""
    layout = None if rig.columns is None else parse_columns_spec(rig.columns)
    return open_source(parse_source_url(url), clock, layout, f"test of {rig.name}", parse_renamings(rig.renamings))


def told_of(rig: WrongRig, source: Source, clock: StepClock, send: Callable[[bytes], None]) -> Told:
    """Plays the rig until one of the two conditions is told, at most for five minutes of the cook."""
    with tempfile.TemporaryDirectory() as folder:
        recorder = Recorder.create(Path(folder), clock.anchor(), rig="cooker", source=source.url)
        cook = Cook(recorder.path, lambda _anchor: clock)
        standing: tuple[str, ...] = ()
        try:
            for second in range(LONGEST_S):
                clock.moment = START + second
                send(rig.line(second))
                for pack in packs_of(listen(source, has(Pack))):
                    recorder.add_pack(pack)
                    source.stored([pack])
                if second % ASK_EVERY_S:
                    continue
                recorder.commit()
                cook.look()
                found = {one.name: one for one in cook.outlook().alarms}
                standing = tuple(found)
                first = next((found[name] for name in (NEAR_BOIL, NO_PASTE) if name in found), None)
                if first is not None:
                    return Told(first.name, float(second), first.words, standing)
        finally:
            recorder.abandon()
    return Told(None, float(LONGEST_S), "", standing)


def by_cable(rig: WrongRig) -> Told:
    """Through a pseudo-terminal."""
    clock, terminal = StepClock(), Terminal()
    try:
        with closing(open_rig(f"serial://{terminal.path}", rig, clock)) as source:
            source.poll(0.0)
            # The first line of a stream that is joined midway is not trusted.
            terminal.send(b"\n")
            return told_of(rig, source, clock, lambda line: terminal.send(line + b"\n"))
    finally:
        terminal.close()


def by_broker(rig: WrongRig, broker: Mosquitto) -> Told:
    """Through a broker."""
    clock, sender = StepClock(), Rig(broker.port)
    url = f"mqtt://127.0.0.1:{broker.port}/kettleside/cooker/readings"
    try:
        with closing(open_rig(url, rig, clock)) as source:
            heard: list[SourceItem] = []
            while not has(BadLine)(heard):
                # A line that is no pack comes back once the broker has taken the subscription.
                sender.send("hello")
                heard += source.poll(0.1)
            while source.poll(0.1):
                pass
            return told_of(rig, source, clock, sender.send)
    finally:
        sender.close()
