"""A cook told line by line: the command's own promises (interfaces, section 5)."""

import json
import math
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.estimation import first_prior
from monitor.session.stream import LineError, StreamSession
from monitor.storage import load, recordings, summary

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
        *("stir_due", "check_due", "reasons", "conditions", "done", "excess", "stage"),
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
    stream = StreamSession(SHEET, tmp_path, first_prior)
    for line in cook_lines(600):
        stream.take(line)
    stream.close()
    (path,) = recordings(tmp_path)
    assert summary(path).finished == START + 590
    assert not list(tmp_path.glob("*-wal"))


def test_nothing_is_taken_after_the_end(tmp_path: Path) -> None:
    stream = StreamSession(SHEET, tmp_path, first_prior)
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
        StreamSession(SHEET, tmp_path, first_prior).take(line)


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
    stream = StreamSession(SHEET, tmp_path_factory.mktemp("fuzz"), first_prior)
    for line in lines:
        try:
            stream.take(line)
        except LineError as error:
            assert str(error).endswith(".") and "\n" not in str(error).strip()
    stream.close()


def streamed(folder: Path, lines: list[str]) -> StreamSession:
    stream = StreamSession(SHEET, folder, first_prior)
    for line in lines:
        stream.take(line)
    return stream


def asked(stream: StreamSession, at_s: float) -> dict[str, object]:
    found = stream.take(json.dumps({"t": START + at_s, "ask": "outlook"}))
    assert found is not None
    return found


@pytest.mark.parametrize(
    "stray",
    [
        '[{"n":"paste","u":"Cel","v":90,"t":4.11e9}]',
        '[{"n":"paste","u":"Cel","v":90,"t":3e8}]',
        '{"t": 4.11e9, "event": "note", "text": "later"}',
    ],
)
def test_one_line_from_another_time_does_not_move_the_clock(tmp_path: Path, stray: str) -> None:
    lines = cook_lines(3600)
    plain = streamed(tmp_path / "plain", lines)
    other = streamed(tmp_path / "other", [*lines[:350], stray, *lines[350:]])
    told, beside = asked(plain, 3600.0), asked(other, 3600.0)
    assert beside["t"] == told["t"] == START + 3600.0
    assert beside["temperature_c"] == told["temperature_c"]
    assert beside["stir_due"] == told["stir_due"] and beside["conditions"] == told["conditions"] == []
    plain.close()
    other.close()
    # Nothing is lost: it is stored as of when it came.
    history = load(recordings(tmp_path / "other")[0])
    assert len(history.series["paste"]) + len(history.events_of("note")) == 360 + 1
    assert history.as_of < START + 3700.0


def test_a_stray_line_at_the_very_end_is_kept_too(tmp_path: Path) -> None:
    stream = streamed(tmp_path, [*cook_lines(600), '[{"n":"paste","u":"Cel","v":90,"t":4.11e9}]'])
    stream.close()
    history = load(recordings(tmp_path)[0])
    assert len(history.series["paste"]) == 61 and history.as_of == START + 590.0


def test_a_leap_that_the_next_line_bears_out_is_believed(tmp_path: Path) -> None:
    moments = [START + 200_000.0 + 10 * i for i in range(3)]
    later = [json.dumps([{"n": "paste", "u": "Cel", "v": 90, "t": at}]) for at in moments]
    streamed(tmp_path, [*cook_lines(600), *later]).close()
    assert load(recordings(tmp_path)[0]).series["paste"].measured[-3:].tolist() == moments


def test_a_question_from_far_ahead_is_answered_and_moves_nothing(tmp_path: Path) -> None:
    stream = streamed(tmp_path, cook_lines(3600))
    before = asked(stream, 3600.0)
    assert asked(stream, 300_000.0)["t"] == START + 300_000.0
    assert asked(stream, 3600.0)["temperature_c"] == before["temperature_c"]
    stream.close()
