"""A kitchen's own titrated soaps, read from its recordings, move what the model expects of a reading."""

from pathlib import Path

import pytest

from monitor.chemistry import NO_OFFSET
from monitor.cli import main
from monitor.model import make_event
from monitor.runtime import Anchor
from monitor.session import kitchen_ph_offset
from monitor.simulator import INVENTED
from monitor.storage import Recorder, log_event

DAY_S = 86_400.0
START = 1_773_484_800.0
SHEET = """title = "Brush soap"
[[oil]]
name = "olive"
grams = 1000
[water]
grams = 900
"""


def cooked(folder: Path, began: float, ph: float | None, source: str = "test") -> Path:
    """A finished cook whose product was titrated at 0.11 % KOH, and read at 1 % where ``ph`` is given."""
    recorder = Recorder.create(folder, Anchor(began, began, "", 0.0), rig="cooker", source=source, sheet=SHEET)
    recorder.close()
    log: list[tuple[str, dict[str, object]]] = [
        ("checked", {"result": "clear", "sample_g": 8.0}),
        ("water added", {"grams": 2400.0}),
        ("finished", {}),
        ("titrated", {"acid_ml": 2.0, "acid_mol_l": 0.1, "sample_g": 10.0}),
    ]
    if ph is not None:
        log.append(("ph read", {"ph": ph, "sample_percent": 1.0, "temperature_c": 25.0}))
    for n, (kind, fields) in enumerate(log):
        moment = began + 60.0 * n
        log_event(recorder.path, make_event(f"{began} {n}", kind, moment, moment, fields))
    return recorder.path


def test_titrated_cooks_teach_how_far_the_readings_lie_off(tmp_path: Path) -> None:
    assert kitchen_ph_offset(tmp_path) == NO_OFFSET
    # 0.2 mmol of free hydroxide in a litre of sample with 9 mmol of soap is pH 10.3 by the model.
    for n in range(4):
        cooked(tmp_path, START + n * DAY_S, 10.65)
    found = kitchen_ph_offset(tmp_path)
    assert found.readings == 4 and 0.25 < found.ph < 0.4 and found.sd < 0.1
    # As of the second day only the first cook had ended.
    assert kitchen_ph_offset(tmp_path, START + DAY_S).readings == 1


def test_what_no_kitchen_made_or_nobody_titrated_teaches_nothing(tmp_path: Path) -> None:
    cooked(tmp_path, START, 10.8, source=INVENTED)
    cooked(tmp_path, START + DAY_S, None)
    (tmp_path / "broken.cook").write_bytes(b"not a recording")
    assert kitchen_ph_offset(tmp_path) == NO_OFFSET


def test_the_command_decides_by_the_kitchens_own_readings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = tmp_path / "batch.toml"
    sheet.write_text(SHEET, encoding="utf-8")
    # Undiluted paste, read at 1 %: neutral near 9.9 by the model, near 10.2 by this kitchen's probe.
    asked = ["sums", "neutralise", "--ph", "10.40", "--batch", str(sheet), "--recordings", str(tmp_path)]
    assert main(asked) == 0
    assert "pH 10.40  act" in capsys.readouterr().out
    for n in range(4):
        cooked(tmp_path, START + n * DAY_S, 10.65)
    assert main(asked) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "pH 10.40 optional" in out and "by 4 titrated soaps of" in out
