"""A network of real hosts between monitor and broker that loses packets, falls silent, goes down, gives new addresses.

    python -m tests.bench.far_network [--rounds 10] [--seed 1]

The broker, a real mosquitto, is in a network namespace of its own (as root, with iproute2 and nftables); the rig
sends it ten packs a second over a link that never fails. A round is one trouble and one return. Prints for each trouble
the rounds, the packs sent, lost, stored twice and false, and how soon readings came after the network's return; ends
with 1 where one was lost, twice or false, or the return took 2 s.
"""

import argparse
import os
import random
import sys
import tempfile
from collections.abc import Callable
from contextlib import ExitStack, closing
from pathlib import Path

from monitor.sources import Source
from tests.bench.cut_off import Kind, settle, until_back
from tests.sources.mosquitto import Mosquitto, Rig
from tests.sources.network_namespaces import BROKER_BY_AIR, BROKER_BY_CABLE, HostApart
from tests.sources.polling import CLOCK, opened

LONGEST_S = 15.0
SENT_PER_S = 10.0
# The same, for a network so bad that TCP's own waiting is most of it.
HALF, FIFTH = 50, 20


def sending(kind: Kind, source: Source, rig: Rig, seconds: float) -> None:
    """The rig sends, and we listen, for a while."""
    end_s = CLOCK.real_s() + seconds
    while CLOCK.real_s() < end_s:
        kind.sent += 1
        rig.send_pack(60.0, kind.sent - 1)
        settle(kind, source, 1.0 / SENT_PER_S)


def caught_up(kind: Kind, source: Source) -> None:
    """Listens until all that the broker kept has come, or for ten seconds."""
    end_s = CLOCK.real_s() + 10.0
    while kind.lost and CLOCK.real_s() < end_s:
        settle(kind, source, 0.1)


def trouble(
    host: HostApart,
    folder: Path,
    name: str,
    rounds: int,
    chance: random.Random,
    begin: Callable[[], None],
    end: Callable[[], None],
) -> Kind:
    """So many rounds of one trouble."""
    kind = Kind(name, kept=True)
    broker = Mosquitto(folder, host="0.0.0.0", started_by=host.started_by).start()
    url = f"mqtt://{BROKER_BY_AIR}:{broker.port}/kettleside/cooker/readings"
    with ExitStack() as ends:
        ends.callback(broker.stop)
        rig = ends.enter_context(closing(Rig(broker.port, host=BROKER_BY_CABLE)))
        source = ends.enter_context(closing(opened(url)))
        # The broker keeps what is sent from the first session on.
        settle(kind, source, 1.0)
        until_back(kind, source, lambda seq: rig.send_pack(60.0, seq))
        kind.joined()
        for _ in range(rounds):
            begin()
            sending(kind, source, rig, chance.choice((1.0, 3.0, 7.0, LONGEST_S)))
            end()
            until_back(kind, source, lambda seq: rig.send_pack(60.0, seq))
        caught_up(kind, source)
    return kind


def main() -> int:
    """Tries every trouble."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=10)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    if os.geteuid() != 0:
        print("far_network: only root can make a host of its own.", file=sys.stderr)
        return 2
    chance, good = random.Random(args.seed), True
    print(f"{'trouble':<34}{'rounds':>7}{'packs':>7}{'lost':>6}{'twice':>7}{'false':>7}{'back s':>9}{'most':>7}")
    with HostApart() as host:
        for name, begin, end in (
            ("one packet in five lost", lambda: host.lose(FIFTH), lambda: host.lose(0)),
            ("one packet in two lost", lambda: host.lose(HALF), lambda: host.lose(0)),
            ("every packet lost", lambda: host.lose(100), lambda: host.lose(0)),
            ("link down", lambda: host.link("down"), lambda: host.link("up")),
            ("our address changed", host.move, lambda: None),
        ):
            with tempfile.TemporaryDirectory() as space:
                Path(space).chmod(0o777)
                kind = trouble(host, Path(space), name, args.rounds, chance, begin, end)
            print(kind.row(), flush=True)
            good &= kind.good
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
