"""Sources that come and go: a cable, a broker, a network, a password, a flood.

    python -m tests.bench.cut_off [--rounds 50] [--flood-seconds 20] [--seed 1]

Against real pseudo-terminals, a real mosquitto, and the real ``kettleside log`` for the flood. A round is one loss and
one return, with garbage and half lines before the loss where there is a cable. Prints
for each kind the rounds, the packs sent, lost, stored twice and false, and how soon readings came after the source's
return; ends with 1 where one was false or came twice, one was lost that a broker had kept, or the return took 2 s.
"""

import argparse
import os
import random
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event

from monitor.protocol import Pack
from monitor.sources import Lost, Restored, Source
from tests.logger.running import Logger, seqs
from tests.sources.mosquitto import Mosquitto, Rig, Wire
from tests.sources.polling import CLOCK, Terminal, line, listen, opened

WITHIN_S, PATIENCE_S = 2.0, 30.0


@dataclass
class Kind:
    """What came of one kind of trouble. kept: whether a broker keeps what is sent meanwhile."""

    name: str
    kept: bool
    rounds: int = 0
    sent: int = 0
    got: list[int] = field(default_factory=list)
    false: int = 0
    told: int = 0
    back_s: list[float] = field(default_factory=list)

    def take(self, heard: list[object], source: Source) -> int:
        """Counts what was heard; how many packs."""
        packs = [item for item in heard if isinstance(item, Pack)]
        for pack in packs:
            # Every sound pack says 60 and counts; anything else was made up on the way.
            sound = pack.seq is not None and pack.seq < self.sent and [r.value for r in pack.records] == [60.0]
            self.false += not sound
            self.got.append(pack.seq if pack.seq is not None else -1)
        self.told += sum(isinstance(item, Lost | Restored) for item in heard)
        source.stored(packs)
        return len(packs)

    @property
    def lost(self) -> int:
        """Packs that never came."""
        return len(set(range(self.sent)) - set(self.got))

    @property
    def twice(self) -> int:
        """Packs that came more than once."""
        return len(self.got) - len(set(self.got))

    @property
    def good(self) -> bool:
        """Whether all that was promised came true."""
        return not (self.false or self.twice or (self.kept and self.lost)) and max(self.back_s) < WITHIN_S

    def joined(self) -> None:
        """The first time is no return."""
        self.rounds = 0
        self.back_s.clear()

    def row(self) -> str:
        """One line of the table."""
        return (
            f"{self.name:<34}{self.rounds:>7}{self.sent:>7}{self.lost:>6}{self.twice:>7}{self.false:>7}"
            f"{statistics.median(self.back_s):>9.2f}{max(self.back_s):>7.2f}"
        )


def until_back(kind: Kind, source: Source, send: Callable[[int], None]) -> None:
    """Sends ten packs a second until one of them comes through."""
    returned_s, first, again_s = CLOCK.real_s(), kind.sent, 0.0
    while not kind.got or max(kind.got) < first:
        assert CLOCK.real_s() - returned_s < PATIENCE_S, f"{kind.name}: it never came back"
        if CLOCK.real_s() >= again_s:
            again_s = CLOCK.real_s() + 0.1
            kind.sent += 1
            send(kind.sent - 1)
        kind.take(list(source.poll(0.02)), source)
    kind.back_s.append(CLOCK.real_s() - returned_s)
    kind.rounds += 1


def settle(kind: Kind, source: Source, seconds: float) -> None:
    """Listens on for a while."""
    end_s = CLOCK.real_s() + seconds
    while CLOCK.real_s() < end_s:
        kind.take(list(source.poll(0.05)), source)


def cable(folder: Path, rounds: int, chance: random.Random) -> Kind:
    """A cable pulled and put in elsewhere, found again by what it speaks, with garbage before each loss."""
    kind, patience = Kind("cable, each time at another path", kept=False), Event()
    garbage = (
        b"\xff\xfe\x00\n",
        line(98.0, 3).replace(b"98.0", b"99.0"),
        b'[{"n":"paste","u":"Cel","v":9',
        b"x" * 5000,
    )
    with closing(opened(f"serial://auto?also={folder}/port-*")) as source:
        for number in range(rounds):
            terminal, port = Terminal(), folder / f"port-{number}"
            port.symlink_to(terminal.path)
            until_back(kind, source, lambda seq, terminal=terminal: terminal.send(line(60.0, seq)))  # type: ignore[misc]
            terminal.send(b"".join(chance.sample(garbage, 2)))
            settle(kind, source, 0.05)
            terminal.close()
            port.unlink()
            kind.take(list(listen(source, lambda heard: any(isinstance(item, Lost) for item in heard))), source)
            patience.wait(chance.uniform(0.0, 1.0))
    return kind


def broker_restarts(folder: Path, rounds: int, chance: random.Random, *, persistent: bool) -> Kind:
    """A broker that is ended and started again."""
    name = "broker restarted, " + ("its state kept" if persistent else "all forgotten")
    kind, lines = Kind(name, kept=persistent), ["allow_anonymous true"]
    if persistent:
        lines += [
            "persistence true",
            f"persistence_location {folder}/",
            "autosave_on_changes true",
            "autosave_interval 1",
        ]
    broker = Mosquitto(folder, *lines).start()
    with closing(opened(f"mqtt://127.0.0.1:{broker.port}/kettleside/cooker/readings")) as source:
        settle(kind, source, 1.0)
        for number in range(rounds + 1):
            if number:
                broker.stop()
                settle(kind, source, chance.uniform(0.0, 3.0))
                broker.start()
            rig = Rig(broker.port)
            until_back(kind, source, lambda seq, rig=rig: rig.send_pack(60.0, seq))  # type: ignore[misc]
            settle(kind, source, 0.3)
            rig.close()
            if not number:
                kind.joined()
    broker.stop()
    return kind


def network(folder: Path, rounds: int, chance: random.Random, *, stalls: bool) -> Kind:
    """A network between us and the broker that is cut, or on which nothing passes for up to 15 s."""
    kind = Kind("network stands still, then flows" if stalls else "network cut", kept=True)
    broker = Mosquitto(folder).start()
    wire, rig = Wire(broker.port), Rig(broker.port)
    with closing(opened(f"mqtt://127.0.0.1:{wire.port}/kettleside/cooker/readings")) as source:
        settle(kind, source, 1.0)
        until_back(kind, source, lambda seq: rig.send_pack(60.0, seq))
        kind.joined()
        for _ in range(rounds):
            settle(kind, source, chance.uniform(0.0, 0.5))
            if stalls:
                wire.stall()
                for _ in range(5):
                    kind.sent += 1
                    rig.send_pack(60.0, kind.sent - 1)
                settle(kind, source, chance.choice((1.0, 3.0, 7.0, 15.0)))
                wire.flow()
            else:
                wire.cut()
            until_back(kind, source, lambda seq: rig.send_pack(60.0, seq))
        settle(kind, source, 3.0)
    wire.close()
    rig.close()
    broker.stop()
    return kind


def password(folder: Path, rounds: int, chance: random.Random) -> Kind:
    """A wrong password in its file, later corrected."""
    kind, passwords, secret = (
        Kind("wrong password, later corrected", kept=False),
        folder / "passwords",
        folder / "secret",
    )
    subprocess.run(["mosquitto_passwd", "-b", "-c", str(passwords), "anna", "sesame"], check=True)
    broker = Mosquitto(folder, "allow_anonymous false", f"password_file {passwords}").start()
    rig = Rig(broker.port, user="anna", password="sesame")
    for _ in range(rounds):
        secret.write_text("wrong\n")
        url = f"mqtt://anna@127.0.0.1:{broker.port}/kettleside/cooker/readings?password_file={secret}"
        with closing(opened(url)) as source:
            listen(source, lambda heard: any(isinstance(item, Lost) for item in heard))
            settle(kind, source, chance.uniform(0.0, 2.0))
            secret.write_text("sesame\n")
            until_back(kind, source, lambda seq: rig.send_pack(60.0, seq))
            settle(kind, source, 0.3)
    rig.close()
    broker.stop()
    return kind


def flood(folder: Path, seconds: float, lines_a_second: int) -> str:
    """So many lines a second into the real logger; what came of it."""
    terminal = Terminal()
    os.set_blocking(terminal.rig, False)
    logger = Logger(folder, f"serial://{terminal.path}")
    logger.wait_for(b"Records into")
    Event().wait(0.5)
    started_s, sent, rest, held_up = CLOCK.real_s(), 0, b"", 0
    while (elapsed_s := CLOCK.real_s() - started_s) < seconds or rest:
        if not rest and elapsed_s < seconds:
            due = int(elapsed_s * lines_a_second) - sent
            rest = b"".join(line(60.0, sent + n) for n in range(due))
            sent += due
        with suppress(BlockingIOError):
            rest = rest[os.write(terminal.rig, rest[:2048]) :] if rest else rest
            continue
        held_up += 1
        Event().wait(0.001)
    Event().wait(2.0)
    logger.stop()
    terminal.close()
    stored = seqs(folder)
    lost, twice = sent - len(set(stored)), len(stored) - len(set(stored))
    return f"flood: {sent} lines in {seconds:g} s sent, {lost} lost, {twice} stored twice"


def main() -> int:
    """Runs every kind."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=50)
    parser.add_argument("--flood-seconds", type=float, default=20.0)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    chance, rounds, few = random.Random(args.seed), args.rounds, max(1, args.rounds // 5)
    print(
        f"{'trouble':<34}{'rounds':>7}{'packs':>7}{'lost':>6}{'twice':>7}{'false':>7}{'back s':>9}{'most':>7}",
        flush=True,
    )
    works: list[Callable[[Path], Kind]] = [
        lambda folder: cable(folder, rounds, chance),
        lambda folder: broker_restarts(folder, few, chance, persistent=True),
        lambda folder: broker_restarts(folder, few, chance, persistent=False),
        lambda folder: network(folder, few, chance, stalls=False),
        lambda folder: network(folder, few, chance, stalls=True),
        lambda folder: password(folder, few, chance),
    ]
    good = True
    for work in works:
        with tempfile.TemporaryDirectory() as space:
            Path(space).chmod(0o777)
            kind = work(Path(space))
        print(kind.row(), flush=True)
        good &= kind.good
    with tempfile.TemporaryDirectory() as space:
        words = flood(Path(space) / "cooks", args.flood_seconds, 2000)
    print(words)
    return 0 if good and " 0 lost, 0 stored twice" in words else 1


if __name__ == "__main__":
    sys.exit(main())
