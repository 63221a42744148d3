"""Which cook goes on after a restart, and how its time does."""

import time
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import pytest

from monitor.logger.resume import RESUMED_WITHIN_S, resumed_anchor
from monitor.model import clock_time
from monitor.runtime import Anchor
from monitor.storage import Recorder, load
from tests.logger.scripted import START, Run, events, pack

SHEET = 'title = "Hand soap"\n'


def test_a_restart_continues_the_running_cook(tmp_path: Path) -> None:
    first = Run(tmp_path).record((START + 1, pack(60.0, START + 1, 1)))
    second = Run(tmp_path, at=START + 60).record((START + 61, pack(61.0, START + 61, 2)), sheet=SHEET)
    assert first.cooks == second.cooks
    history = load(second.cooks[0])
    assert history.series["paste"].value.tolist() == [60.0, 61.0]
    assert events(second.cooks[0]) == [("resumed", 60.0)]
    assert history.batch is not None


def test_a_cook_silent_for_half_a_day_is_not_continued(tmp_path: Path) -> None:
    Run(tmp_path).record((START + 1, pack(60.0, START + 1)))
    run = Run(tmp_path, at=START + 1 + RESUMED_WITHIN_S).record((START + 50_000, pack(20.0, START + 50_000)))
    assert len(run.cooks) == 2
    # The old one is left as one file.
    assert not list(tmp_path.glob("*-wal"))


def test_a_virtual_cook_is_not_continued_in_real_time(tmp_path: Path) -> None:
    Recorder.create(tmp_path, Anchor(START, START, "", 0.0, rate=80.0), rig="cooker", source="test:").close()
    run = Run(tmp_path, at=START + 60).record((START + 61, pack(61.0, START + 61)))
    assert len(run.cooks) == 2


def test_another_rigs_cook_is_not_continued(tmp_path: Path) -> None:
    Run(tmp_path).record((START + 1, pack(60.0, START + 1)))
    run = Run(tmp_path, at=START + 9).record((START + 10, pack(61.0, START + 10)), rig="shed")
    assert len(run.cooks) == 2


@pytest.mark.parametrize(
    ("tied", "last_known", "fresh", "expected"),
    [
        # The wall clock was stepped by an hour, either way; the boot is the same.
        (Anchor(START, START, "b", 100.0), START + 50, Anchor(START + 3660, START + 3660, "b", 160.0), START + 60),
        (Anchor(START, START, "b", 100.0), START + 50, Anchor(START - 3540, START - 3540, "b", 160.0), START + 60),
        # The machine was restarted: the wall clock counts, but cook time never runs backwards.
        (Anchor(START, START, "b", 100.0), START + 50, Anchor(START + 90, START + 90, "c", 5.0), START + 90),
        (Anchor(START, START, "b", 100.0), START + 50, Anchor(0.0, 0.0, "c", 5.0), START + 50),
        # Half a day on, it is another cook.
        (Anchor(START, START, "b", 100.0), START + 50, Anchor(START + 5e4, START + 5e4, "b", 50_100.0), None),
        # A virtual cook does not go on in real time.
        (Anchor(START, START, "b", 100.0, 80.0), START + 50, Anchor(START + 60, START + 60, "b", 160.0), None),
    ],
)
def test_cook_time_continues_after_a_restart(
    tied: Anchor, last_known: float, fresh: Anchor, expected: float | None
) -> None:
    anchor = resumed_anchor(tied, last_known, fresh)
    assert (None if anchor is None else anchor.cook_time) == expected


def test_the_end_of_summer_time_does_not_change_cook_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """25 October 2026, 01:00 UTC: the clocks go back from 3 to 2 (EU directive 2000/84)."""
    change = datetime(2026, 10, 25, 1, tzinfo=UTC).timestamp()
    monkeypatch.setenv("TZ", "Europe/Berlin")
    time.tzset()
    try:
        run = Run(tmp_path, at=change - 3600.0)
        run.record(*((change + after, pack(60.0, change + after)) for after in range(-3500, 3600, 100)))
        Run(tmp_path, at=change + 3600.0).record((change + 3700.0, pack(61.0, change + 3700.0)))
        history = load(run.cooks[0])
        steps = {later - earlier for earlier, later in pairwise(history.series["paste"].measured.tolist())}
        assert clock_time(change - 60.0) == "02:59" and clock_time(change) == "02:00"
    finally:
        monkeypatch.undo()
        time.tzset()
    assert len(run.cooks) == 1 and "T000000Z" in run.cooks[0].name
    assert steps == {100.0, 200.0}
