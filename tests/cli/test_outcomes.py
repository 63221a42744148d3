"""``kettleside outcomes``: what is said of a batch weeks after its cook, and the table of all."""

from pathlib import Path

import pandas as pd
import pytest

from monitor.cli import main
from monitor.runtime.clock import JumpClock
from tests.dashboard.seeded import Maker


def test_a_finished_cook_is_told_of_and_counted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = Maker(tmp_path, JumpClock(), hours=0.6)
    made.log("finished", 2100)
    made.recorder.close()
    at = ("--recordings", str(tmp_path))
    said = ("--look", "hazy", "--lather", "much", "--cloudy-below-c", "12")
    assert main(["outcomes", "--cook", "latest", *said, "--csv", str(tmp_path / "out.csv"), *at]) == 0
    told = capsys.readouterr().out.splitlines()
    assert told[0] == f"{made.path.stem}  Kitchen batch: hazy; lather much; cloudy below 12 °C"
    assert told[1].startswith("Too few to say: 0 clear and 1 hazy or cloudy.")
    assert pd.read_csv(tmp_path / "out.csv")["cloudy_below_c"].tolist() == [12.0]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--look", "milky"), "look of event 'outcome' is 'milky'; it must be one of clear, hazy, cloudy"),
        ((), "event 'outcome' lacks its field 'look'"),
        (
            ("--look", "clear", "--cloudy-below-c", "nan"),
            "cloudy_below_c of event 'outcome' is nan; it must be a number",
        ),
    ],
)
def test_a_mistake_is_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], why: str
) -> None:
    made = Maker(tmp_path, JumpClock(), hours=0.2)
    made.recorder.close()
    assert main(["outcomes", "--cook", "latest", *words, "--recordings", str(tmp_path)]) != 0
    (line,) = capsys.readouterr().err.splitlines()
    assert why in line
