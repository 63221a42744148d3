"""A recording read as it grows is the recording read whole."""

from pathlib import Path

import numpy as np
import pytest

from monitor.protocol import Pack, SenmlRecord
from monitor.runtime.clock import JumpClock
from monitor.storage.columns import MOST_SINGLE
from monitor.storage.reader import IncrementalReader, load
from monitor.storage.writer import Recorder


@pytest.mark.parametrize("packs_a_look", [1, MOST_SINGLE, 3 * MOST_SINGLE])
def test_however_often_it_is_looked_at(tmp_path: Path, packs_a_look: int) -> None:
    clock = JumpClock()
    recorder = Recorder.create(tmp_path, clock.anchor(), rig="cooker", source="rig:")
    roll = IncrementalReader(recorder.path)
    for number in range(200):
        moment = clock.now() + number
        # Each seventh was measured before the one that came before it; each eleventh is a fault.
        measured = moment - 3.0 if number % 7 == 6 else moment
        fault = "open circuit" if number % 11 == 10 else None
        record = SenmlRecord("paste", "Cel", None if fault else 60.0 + number / 8, fault, measured)
        recorder.add_pack(Pack((record, SenmlRecord("wall", "Cel", 70.0, None, None)), moment, number, None))
        recorder.commit()
        if number % packs_a_look == 0:
            roll.refresh()
    roll.refresh()
    grown, whole = roll.history(), load(recorder.path)
    assert grown.as_of == whole.as_of and grown.series.keys() == whole.series.keys()
    for name, series in whole.series.items():
        assert grown.series[name].faults == series.faults
        for column in ("measured", "known", "value"):
            np.testing.assert_array_equal(getattr(grown.series[name], column), getattr(series, column))
    assert len(whole.series["paste"]) == 200 and np.all(np.diff(whole.series["paste"].measured) >= 0)
    recorder.close()
