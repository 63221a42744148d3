"""What is wrong is told as soon as by a right rig, whatever the rig's clock says: the bench's cooks by a jumping clock."""

import json
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from monitor.protocol import parse_pack
from monitor.runtime import Anchor
from monitor.runtime.clock import JumpClock
from monitor.session import Cook
from monitor.sources import SourceItem
from tests.bench.wrong_clocks import LENGTH_S, RIGHT, RIGS, Rig, good, lid_on, records, standing
from tests.logger.scripted import START, Run

EVERY_S = 2


class SetClock(JumpClock):
    """A clock of a machine whose wall clock is set forward by so much a minute into the cook."""

    def __init__(self, set_s: float) -> None:
        super().__init__(START)
        self._set_s = set_s

    def anchor(self) -> Anchor:
        anchor = super().anchor()
        return replace(anchor, wall=anchor.wall + self._set_s) if self.moment > START + 60.0 else anchor


def cooked(folder: Path, rig: Rig) -> tuple[dict[str, float], Cook]:
    """When each thing was told, seconds after the begin, and the cook."""
    run = Run(folder)
    run.clock = run.source.clock = clock = SetClock(rig.machine_behind_s)
    cook: Cook | None = None
    told: dict[str, float] = {}

    def begin() -> None:
        nonlocal cook
        lid_on(run.cooks[0], START)
        cook = Cook(run.cooks[0], lambda _: clock)

    def look() -> None:
        assert cook is not None
        for name in standing(cook):
            told.setdefault(name, clock.now() - START)

    steps: list[tuple[float, SourceItem | Callable[[], None]]] = []
    for elapsed in range(1, LENGTH_S, EVERY_S):
        at = START + elapsed
        payload = json.dumps(records(rig, at + rig.machine_behind_s, elapsed))
        steps += [(at, parse_pack(payload, at)), (at + 1.0, look)]
    run.record((START, begin), *steps)
    assert cook is not None
    return told, cook


@cache
def told_of_a_right_rig() -> dict[str, float]:
    with TemporaryDirectory() as folder:
        return cooked(Path(folder), RIGHT)[0]


@pytest.mark.parametrize("rig", RIGS, ids=lambda rig: rig.name)
def test_alarms_come_within_a_minute_of_a_rig_with_a_right_clock(tmp_path: Path, rig: Rig) -> None:
    told, cook = cooked(tmp_path, rig)
    assert good(told, told_of_a_right_rig()), (told, told_of_a_right_rig())
    # The alarm for the clock lasts as long as one of the two is wrong.
    words = rig.name.split()
    wrong = words[-1] in ("ahead", "behind") and words[0] in ("15", "2", "100")
    mended = rig.name in ("2 h ahead, set right", "logger a year behind")
    assert ("rig clock wrong" in told) == (wrong or mended)
    outlook = cook.outlook(START + LENGTH_S - 1.0)
    states = [one.state for one in outlook.alarms if one.name == "rig clock wrong"]
    assert states == (["unacknowledged"] if wrong else ["returned unacknowledged"] if mended else [])
