"""Silence as a recording's reader sees it: fifteen seconds of real time, whatever the pace of the cook."""

from pathlib import Path

import pytest

from monitor.runtime.clock import JumpClock
from monitor.session import Cook
from tests.dashboard.seeded import Maker


@pytest.mark.parametrize(("rate", "limit_s"), [(1.0, 15.0), (80.0, 1200.0)])
def test_silence_is_counted_at_the_cooks_own_pace(tmp_path: Path, rate: float, limit_s: float) -> None:
    clock = JumpClock()
    maker = Maker(tmp_path, clock, hours=0.5, rate=rate)
    cook = Cook(maker.path, lambda _: clock)
    last = maker.started + 1799.0

    def said() -> list[str]:
        return [one.name for one in cook.outlook().alarms]

    clock.moment = last + limit_s - 6.0
    assert said() == []
    clock.moment = last + limit_s
    assert said() == ["no data"]
    # An earlier moment is judged by the same rule.
    assert cook.outlook(as_of=last + limit_s - 1.0).alarms == ()
    assert [one.name for one in cook.outlook(as_of=last + limit_s).alarms] == ["no data"]
