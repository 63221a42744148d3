"""A cook told line by line: the command's own promises (interfaces, section 5)."""

import json
import math
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.catalogue import recordings, summary
from monitor.progress.prior import first_prior
from monitor.roll import load
from monitor.stream import LineError, Stream

START = 1_773_484_800
SHEET = 'title = "Brush soap"\n[[oil]]\nname = "rapeseed"\ngrams = 600\n[alkali]\nkind = "KOH"\nexcess = 0.03\n'


def cook_lines(seconds: int, step: int = 10) -> list[str]:
    lines = [json.dumps({"t": START, "event": "lid on"})]
    for i in range(0, seconds, step):
        celsius = round(4 * (95 - 30 * math.exp(-i / 2400))) / 4
        records = [{"n": "paste", "u": "Cel", "v": celsius, "t": START + i}, {"n": "seq", "u": "count", "v": i}]
        lines.append(json.dumps(records))
    return lines


def command(sheet: Path, folder: Path, lines: list[str]) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, "-m", "monitor.cli", "stream", "--batch", str(sheet), "--recordings", str(folder)],
        input="\n".join(lines) + "\n",
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


def test_the_command_answers_reports_bad_lines_and_keeps_the_cook(tmp_path: Path) -> None:
    sheet = tmp_path / "batch.toml"
    sheet.write_text(SHEET, encoding="utf-8")
    lines = cook_lines(7200)
    lines.insert(50, "garbage")
    lines += [
        json.dumps({"t": START + 7200, "ask": "outlook"}),
        json.dumps({"t": START + 7200, "event": "checked", "result": "cloudy"}),
    ]
    lines += [json.dumps({"t": START + 7260, "ask": "outlook"}), json.dumps({"t": START + 7300, "event": "finished"})]
    first = command(sheet, tmp_path / "a", lines)
    assert first.returncode == 0
    assert first.stderr == "line 51: It is not JSON.\n"
    answers = [json.loads(line) for line in first.stdout.splitlines()]
    assert [answer["t"] for answer in answers] == [START + 7200, START + 7260]
    assert set(answers[0]) == {
        *("t", "elapsed_s", "temperature_c", "equivalent_s", "converted", "clear_at", "chance_clear"),
        *("stir_due", "check_due", "reasons", "conditions"),
    }
    assert answers[1]["clear_at"][1] > answers[0]["clear_at"][1]
    (path,) = recordings(tmp_path / "a")
    assert summary(path).finished == START + 7300
    assert len(load(path).series["paste"]) == 720
    assert command(sheet, tmp_path / "b", lines).stdout == first.stdout


def test_a_wrong_sheet_ends_with_status_2_and_one_sentence(tmp_path: Path) -> None:
    sheet = tmp_path / "batch.toml"
    sheet.write_text("titel = 'x'", encoding="utf-8")
    result = command(sheet, tmp_path / "a", [])
    assert (result.returncode, result.stdout) == (2, "")
    assert result.stderr.count("\n") == 1 and "'title'" in result.stderr


def test_at_the_end_of_input_the_recording_is_closed(tmp_path: Path) -> None:
    stream = Stream(SHEET, tmp_path, first_prior)
    for line in cook_lines(600):
        stream.take(line)
    stream.close()
    (path,) = recordings(tmp_path)
    assert summary(path).finished == START + 590
    assert not list(tmp_path.glob("*-wal"))


def test_nothing_is_taken_after_the_end(tmp_path: Path) -> None:
    stream = Stream(SHEET, tmp_path, first_prior)
    stream.take(json.dumps({"t": START, "event": "finished"}))
    with pytest.raises(LineError, match="finished before"):
        stream.take(json.dumps({"t": START + 1, "event": "stirred"}))


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ('[{"n":"paste","u":"Cel","v":94}]', "absolute times"),
        ('[{"n":"paste","u":"Cel","v":94,"t":-5}]', "absolute times"),
        ('{"t": 1773484800, "event": "stired"}', "nearest is 'stirred'"),
        ('{"t": 1773484800, "event": "checked"}', "lacks its field"),
        ('{"t": "now", "ask": "outlook"}', "Unix seconds"),
        ('{"t": 1773484800, "ask": "weather"}', "ask for the 'outlook'"),
        ('{"t": 1773484800}', "needs 'event' or 'ask'"),
        ("7", "a pack, an event or a question"),
        ("[" * 3000, "nested too deeply|not JSON"),
        ("[]", "empty"),
    ],
)
def test_a_line_that_is_not_understood_says_why(tmp_path: Path, line: str, why: str) -> None:
    with pytest.raises(LineError, match=why):
        Stream(SHEET, tmp_path, first_prior).take(line)


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(["t", "event", "ask", "n", "v", "u"]), inner)
    ),
    max_leaves=8,
)


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(json_values.map(json.dumps) | st.text(max_size=40), max_size=6))
def test_whatever_comes_it_is_an_answer_or_a_line_error(
    tmp_path_factory: pytest.TempPathFactory, lines: list[str]
) -> None:
    stream = Stream(SHEET, tmp_path_factory.mktemp("fuzz"), first_prior)
    for line in lines:
        try:
            stream.take(line)
        except LineError as error:
            assert str(error).endswith(".") and "\n" not in str(error).strip()
    stream.close()
