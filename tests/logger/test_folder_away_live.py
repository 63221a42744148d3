"""The folder of recordings away under real processes: logger and notices on a pseudo-terminal, at 100 times life."""

import random
from pathlib import Path

import pytest

from tests.bench.folder_away import Lane, Result


@pytest.mark.long
def test_two_absences_and_a_kill_do_not_split_the_cook(tmp_path: Path) -> None:
    result = Result()
    lane = Lane(tmp_path, result, random.Random(1))
    try:
        lane.until_stored(10)
        lane.until_called()
        lane.round(3.0, stand_in=True, kill=False)
        lane.round(3.0, stand_in=False, kill=True)
    finally:
        lane.end()
    assert (result.removals, result.kills, result.split, result.lost, result.twice) == (2, 1, 0, 0, 0)
    assert result.made == 0 and result.calls >= 1
