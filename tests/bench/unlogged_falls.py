"""One fall of temperature that nobody logged, in each of many virtual cooks: what alarm, phone and ledger say of it.

    python -m tests.bench.unlogged_falls --falls 200

Cooks of both kinds of virtual kitchen, six hours long, the person logging stirs and checks as the trade has them and
nothing else. A third of the falls are lid openings of 3 to 20 minutes, a third power cuts of 10 to 60 minutes, a third
a heat turned down by a third to two thirds for 20 to 60 minutes; every cook is judged with the paste's probe alone and
with the wall's. The alarms are asked for every half minute and the phone's questions every five minutes, each from what was
known then, and the ledger at the end of the cook. It is a contradiction when one of them says an open lid and one of
them, then or at any other time, says lost heat. Falls of seeds from 70000 on were used to set the limits.
"""

import argparse
import os
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from enum import Enum

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from monitor.alarms import active_alarms
from monitor.analysis import attribute_time_loss
from monitor.detection import CAUSE_TEXT, Cause, find_suggestions
from monitor.estimation import first_prior
from monitor.model import History, cut, make_event
from tests.alarms.cooks import cooked
from tests.bench.noticed_rates import without_wall
from tests.kitchens.trouble import Kind, Trouble

SAMPLE_S = 10.0
ALARM_EVERY_S, OFFER_EVERY_S = 30.0, 300.0
# What is said from the begin of a fall until so long after its end is held against it.
WATCHED_AFTER_S = 2700.0


class Said(Enum):
    """How what was said of a fall compares with what made it."""

    RIGHT = "right"
    EITHER = "either"
    WRONG = "wrong"
    NOTHING = "nothing"


@dataclass(frozen=True)
class Heard:
    """Everything that was said of one fall. cause: what made it; said: by whom, in the order in which it was said."""

    name: str
    trouble: Trouble
    two_probes: bool
    alarm: tuple[Cause, ...]
    offer: tuple[Cause, ...]
    ledger: tuple[Cause, ...]

    @property
    def cause(self) -> Cause:
        return Cause.LID_OPEN if self.trouble.kind is Kind.LID_LEFT_OFF else Cause.HEAT_LOST

    @property
    def contradicts(self) -> bool:
        """Whether lid and heat were both said of this one fall, by anybody, at any time."""
        return {Cause.LID_OPEN, Cause.HEAT_LOST} <= {*self.alarm, *self.offer, *self.ledger}

    def outcome(self, said: Sequence[Cause]) -> Said:
        """By the last that was said."""
        if not said:
            return Said.NOTHING
        return Said.EITHER if said[-1] is Cause.EITHER else Said.RIGHT if said[-1] is self.cause else Said.WRONG


def drawn(seed: int) -> Trouble:
    """The one thing that goes wrong in the cook of a seed."""
    rng = np.random.default_rng([seed, 5])
    begins_s = 60.0 * rng.uniform(60.0, 200.0)
    kind = (Kind.LID_LEFT_OFF, Kind.POWER_CUT, Kind.TURNED_DOWN)[seed % 3]
    if kind is Kind.LID_LEFT_OFF:
        return Trouble(kind, begins_s, begins_s + 60.0 * rng.uniform(3.0, 20.0))
    if kind is Kind.POWER_CUT:
        return Trouble(kind, begins_s, begins_s + 60.0 * rng.uniform(10.0, 60.0), 0.0)
    return Trouble(kind, begins_s, begins_s + 60.0 * rng.uniform(20.0, 60.0), rng.uniform(0.33, 0.67))


def heard(job: tuple[int, bool]) -> Heard:
    """What was said in the cook of a seed. job: the seed, and whether there is a wall probe."""
    seed, two_probes = job
    trouble = drawn(seed)
    one = cooked(bool(seed // 3 % 2), seed, SAMPLE_S, (trouble,))
    history = one.history if two_probes else without_wall(one.history)
    begins, ends = one.start + trouble.begins_s, one.start + trouble.ends_s
    until = min(ends + WATCHED_AFTER_S, history.as_of)
    alarm: list[Cause] = []
    offer: list[Cause] = []
    for now in np.arange(begins, until, ALARM_EVERY_S).tolist():
        known = cut(history, now)
        alarm += [one for one in _alarmed(known, now) if one not in alarm[-1:]]
        if (now - begins) % OFFER_EVERY_S < ALARM_EVERY_S:
            offer += [one for one in _offered(known, begins, ends) if one not in offer[-1:]]
    offer += [one for one in _offered(history, begins, ends) if one not in offer[-1:]]
    return Heard(f"{seed}", trouble, two_probes, tuple(alarm), tuple(offer), _in_ledger(history, begins, ends))


def _alarmed(history: History, now: float) -> list[Cause]:
    found = [one.words for one in active_alarms(history, now) if one.name == "paste cooling" and one.until is None]
    return [cause for words in found for cause, table in CAUSE_TEXT.items() if words.endswith(table.alarm)]


def _offered(history: History, begins: float, ends: float) -> list[Cause]:
    kinds = [
        one.kind for one in find_suggestions(history) if one.at <= ends and (one.until is None or one.until >= begins)
    ]
    return [cause for kind in kinds for cause, table in CAUSE_TEXT.items() if kind in (table.ongoing, table.past)]


def _in_ledger(history: History, begins: float, ends: float) -> tuple[Cause, ...]:
    end = make_event("end", "finished", history.as_of, history.as_of)
    found = attribute_time_loss(replace(history, logged=(*history.logged, end)), first_prior())
    assert found is not None
    # What somebody logged, and a lid lifted to stir, have lines of their own in other words.
    said = {table.not_logged: cause for cause, table in CAUSE_TEXT.items()}
    near = [one for one in found.losses if one.begins < ends and one.ends > begins]
    lines = [(one.begins, cause) for one in near for looks, cause in said.items() if one.advice.startswith(looks)]
    # An earlier one may still have been on its way back.
    return tuple(cause for begun, cause in lines if begun == max(lines, key=lambda line: line[0])[0])


def table(found: Sequence[Heard]) -> list[str]:
    """How often each said what, by true cause and by probes."""
    lines = [f"{'':<34} falls  {'alarm':^29}  {'phone':^29}  {'ledger':^29}"]
    lines.append(f"{'':<41}" + "".join(f"{one.value:>7}" for _ in range(3) for one in Said))
    for kind in (Kind.LID_LEFT_OFF, Kind.POWER_CUT, Kind.TURNED_DOWN):
        for two_probes in (False, True):
            own = [one for one in found if one.trouble.kind is kind and one.two_probes == two_probes]
            counts = [Counter(one.outcome(getattr(one, who)) for one in own) for who in ("alarm", "offer", "ledger")]
            cells = "".join(f"{count[said]:7d}" for count in counts for said in Said)
            lines.append(f"{kind.value + (', two probes' if two_probes else ', one probe'):<34}{len(own):6d} {cells}")
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(description="what alarm, phone and ledger say of falls that nobody logged")
    parser.add_argument("--falls", type=int, default=200, metavar="N")
    parser.add_argument("--first", type=int, default=60_000, metavar="SEED")
    parser.add_argument("--jobs", type=int, default=2, metavar="J")
    parser.add_argument("--each", action="store_true", help="a line for every fall of which something wrong was said")
    args = parser.parse_args()
    jobs = [(seed, two) for seed in range(args.first, args.first + args.falls) for two in (False, True)]
    with ProcessPoolExecutor(args.jobs) as pool:
        found = list(pool.map(heard, jobs, chunksize=4))
    print("\n".join(table(found)))
    contradictions = [one for one in found if one.contradicts]
    print(f"{args.falls} falls, each with one probe and with two: {len(contradictions)} contradictions")
    for one in found if args.each else contradictions:
        if one.contradicts or any(one.outcome(said) is Said.WRONG for said in (one.alarm, one.offer, one.ledger)):
            lasted_min = (one.trouble.ends_s - one.trouble.begins_s) / 60.0
            said = "; ".join(
                " then ".join(c.value for c in who) or "nothing" for who in (one.alarm, one.offer, one.ledger)
            )
            print(f"  {one.name} {one.trouble.kind.value} {lasted_min:.0f} min, {1 + one.two_probes} probes: {said}")


if __name__ == "__main__":
    main()
