"""What a kitchen teaches is the same by way of the stream and its recordings as from the histories themselves."""

import json
from pathlib import Path

import numpy as np

from monitor.estimation import cook_evidence, fit_kitchen
from monitor.model import History
from monitor.session import StreamSession
from monitor.session import kitchen_model as kitchen_of
from tests.kitchens.adapter import Monitor
from tests.kitchens.cooking import cook
from tests.kitchens.kitchen import kitchen


def sheet_of(history: History) -> str:
    batch = history.batch
    assert batch is not None
    oils = "".join(f'[[oil]]\nname = "{oil.name}"\ngrams = {oil.grams}\n' for oil in batch.oils)
    return f"{oils}[alkali]\nassay = {batch.alkali.assay}\nexcess = {batch.alkali.excess}\n[water]\ngrams = {batch.water_grams}\n"


def lines_of(history: History) -> list[tuple[float, str]]:
    """The cook as a stream's lines with their times, in the order in which they became known."""
    lines = []
    for name, series in history.series.items():
        for at, value in zip(series.measured.tolist(), series.value.tolist(), strict=True):
            record: dict[str, object] = {"n": name, "u": "Cel", "t": at}
            record |= {"vs": "open circuit"} if np.isnan(value) else {"v": value}
            lines.append((at, json.dumps([record])))
    for event in history.events:
        lines.append((event.measured, json.dumps({"t": event.measured, "event": event.kind, **event.fields})))
    return sorted(lines, key=lambda line: line[0])


def test_a_kitchen_learns_through_the_stream_as_from_its_histories(tmp_path: Path) -> None:
    place = kitchen(7)
    past: list[History] = []
    for index in range(3):
        monitor = Monitor(past)
        run = cook(place, index, monitor)
        history = monitor.history()
        lines = lines_of(history)
        stream = StreamSession(sheet_of(history), tmp_path, lambda: kitchen_of(tmp_path).prior())
        answered = None
        halfway = history.started + 0.5 * run.total_s
        for at, line in lines:
            if answered is None and at > halfway:
                answered = stream.take(json.dumps({"t": halfway, "ask": "outlook"}))
            stream.take(line)
        stream.close()
        assert answered is not None
        past.append(history)
    from_histories = fit_kitchen([one for one in map(cook_evidence, past) if one is not None])
    from_recordings = kitchen_of(tmp_path)
    assert from_recordings.cooks == from_histories.cooks == 3
    assert np.allclose(from_recordings.weight, from_histories.weight, atol=1e-6)
    assert abs(from_recordings.plateau_c - from_histories.plateau_c) < 0.05
