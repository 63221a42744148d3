"""No paste temperature among the readings: a single alarm, by the one that says it best."""

import math
from pathlib import Path

import numpy as np
import pytest

from monitor.alarms.active import active_alarms
from monitor.calibration import probe_statuses
from monitor.calibration.status import FAULTY, WELL
from monitor.model import History, Series, arriving_channel, missing_paste_text, unit_problem_texts
from monitor.protocol import Pack, SenmlRecord
from monitor.session import Cook
from monitor.storage import ChannelColumns, Recorder, load
from tests.logger.scripted import START, Run

NO_PASTE, NO_PASTE_DATA = "no paste temperature", "no paste data"


def sent(channel: str, unit: str, first_s: int, last_s: int, value: float | None) -> tuple[str, str, Series]:
    """A channel that comes once a second from and to so many seconds after the start; None: a fault."""
    at = START + np.arange(first_s, last_s, 1.0)
    level = math.nan if value is None else value
    wavering = level + 0.02 * (np.arange(len(at), dtype=np.float64) % 7)
    faults = tuple((i, "open") for i in range(len(at))) if value is None else ()
    return channel, unit, Series(channel, unit, at, at, wavering, faults)


def standing(now_s: float, *channels: tuple[str, str, Series]) -> dict[str, str]:
    """The words of what is wrong so many seconds after the start, by name."""
    columns = ChannelColumns()
    for channel, unit, series in channels:
        worded = dict(series.faults)
        inlet = columns.appender(channel, unit)
        for i, (at, known, value) in enumerate(zip(series.measured, series.known, series.value, strict=True)):
            inlet.append(float(at), float(known), float(value), worded.get(i))
    history = History(START, START + now_s, columns.series())
    return {one.name: one.words for one in active_alarms(history, START + now_s)}


def test_it_is_told_after_two_minutes_and_not_before() -> None:
    wall = sent("wall", "C", 10, 400, 95.0)
    assert standing(125.0, sent("wall", "C", 10, 126, 95.0)) == {}
    assert set(standing(131.0, wall)) == {NO_PASTE}


@pytest.mark.parametrize(("channel", "unit"), [("temp1", "C"), ("temp1", ""), ("paste", "foo")])
def test_what_may_be_a_paste_near_its_boil_is_told_after_one_minute(channel: str, unit: str) -> None:
    assert standing(59.0, sent(channel, unit, 0, 60, 103.0), sent("wall", "C", 0, 60, 108.0)) == {}
    assert set(standing(61.0, sent(channel, unit, 0, 62, 103.0), sent("wall", "C", 0, 62, 108.0))) == {NO_PASTE}
    assert standing(61.0, sent(channel, unit, 0, 62, 93.0), sent("wall", "C", 0, 62, 108.0)) == {}


def test_silence_says_it_better() -> None:
    assert set(standing(400.0, sent("temp1", "C", 0, 300, 95.0))) == {"no data"}


@pytest.mark.parametrize("unit", ["Cel", "C", ""])
def test_a_probe_that_says_nothing_but_faults_says_it_better(unit: str) -> None:
    found = standing(299.0, sent("paste", unit, 0, 300, None), sent("wall", "C", 0, 300, 95.0))
    assert set(found) == {"paste probe open"}


def test_a_paste_that_falls_silent_while_others_speak_says_it_better() -> None:
    found = standing(399.0, sent("paste", "C", 0, 200, 95.0), sent("temp1", "C", 0, 400, 95.0))
    assert set(found) == {NO_PASTE_DATA}


def test_a_paste_that_goes_on_in_a_unit_that_is_not_understood_is_not_silent() -> None:
    for now_s in (250.0, 399.0, 899.0):
        found = standing(now_s, sent("paste", "C", 0, 200, 95.0), sent("paste", "foo", 200, int(now_s) + 1, 95.0))
        assert set(found) == {NO_PASTE}
        assert "The paste arrives in foo" in found[NO_PASTE]


def test_a_fault_that_comes_without_a_unit_is_told_as_the_probes_own() -> None:
    found = standing(399.0, sent("paste", "Cel", 0, 200, 95.0), sent("paste", "", 200, 400, None))
    assert set(found) == {"paste probe open"}


def test_one_paste_of_two_that_falls_silent_is_silent() -> None:
    busy, other = sent("left/paste", "Cel", 0, 200, 95.0), sent("right/paste", "C", 250, 400, 95.0)
    assert set(standing(399.0, busy, other)) == {NO_PASTE_DATA}


def test_when_the_paste_comes_it_is_over_and_was_not_seen() -> None:
    found = standing(500.0, sent("temp1", "C", 0, 300, 95.0), sent("paste", "C", 300, 501, 95.0))
    assert found == {NO_PASTE: "No temperature of the paste came for 5 min."}
    assert standing(500.0, sent("wall", "C", 0, 501, 99.0), sent("paste", "F", 60, 501, 203.0)) == {}


def test_a_wall_in_a_unit_that_is_not_understood_is_told_too() -> None:
    found = standing(299.0, sent("paste", "Cel", 0, 300, 95.0), sent("Wall", "", 0, 300, 95.0))
    assert set(found) == {"wall unit unknown"}
    assert "The wall arrives without a unit" in found["wall unit unknown"]


def test_a_cook_faster_than_life_has_its_own_two_minutes() -> None:
    _, _, wall = sent("wall", "Cel", 0, 3000, 95.0)
    history = History(START, START + 1500.0, {"wall": wall})
    assert active_alarms(history, START + 1500.0, None, 900.0) == ()


def test_the_words_name_the_channel_that_may_be_the_paste() -> None:
    temp1, wall, fan = (
        arriving_channel("temp1", "F", 217.4),
        arriving_channel("wall", "Cel", 95.0),
        arriving_channel("fan", "rpm", 300.0),
    )
    assert missing_paste_text([wall, fan, temp1]) == (
        "No channel is called paste; wall in Cel (95 °C), fan in rpm (300) and temp1 in F (103 °C) arrive: if temp1 is "
        "the paste, it is near boiling over: turn the heat down, and start again with --as temp1=paste."
    )
    assert str(missing_paste_text([wall])).endswith("arrives: if wall is the paste, start again with --as wall=paste.")
    assert str(missing_paste_text([fan])).endswith("start again with --as fan=paste:Cel.")
    assert missing_paste_text([arriving_channel("dev/PASTE", "degC", None)]) is None
    assert unit_problem_texts([wall, fan, arriving_channel("ph", "pH", 9.0)]) == []


def test_the_logger_says_it_at_once_on_its_console(tmp_path: Path) -> None:
    def pack(second: int) -> tuple[float, Pack]:
        records = (SenmlRecord("temp1", "C", 80.0, None, None), SenmlRecord("wall", "", 95.0, None, None))
        return START + second, Pack(records, START + second, None, None)

    run = Run(tmp_path).record(*(pack(second) for second in range(1, 30)))
    told = [words for words in run.reports.lines if words.startswith("warning:")]
    assert told == [
        "warning: No channel is called paste; temp1 in C (80 °C) and wall without a unit (95) arrive: if temp1 is the "
        "paste, start again with --as temp1=paste.",
        "warning: The wall arrives without a unit, 95 at the latest, and a wall is read in °C, °F, K (or degC, Cel, C, "
        "degF, F): send one of these, or start again with its unit, such as --as wall=wall:Cel.",
    ]


def test_the_page_of_the_probes_does_not_say_that_it_reads_well(tmp_path: Path) -> None:
    run = Run(tmp_path)
    recorder = Recorder.create(tmp_path, run.clock.anchor(), rig="cooker", source="test:")
    for second in range(30):
        records = (SenmlRecord("paste", "foo", 93.0, None, None), SenmlRecord("wall", "F", 203.0, None, None))
        recorder.add_pack(Pack(records, START + second, None, None))
    recorder.commit()
    recorder.abandon()
    run.clock.moment = START + 30.0
    paste, wall = probe_statuses(Cook(recorder.path, lambda _tie: run.clock))
    assert (paste.health, wall.health) == (FAULTY, WELL)
    assert paste.health_words.startswith("The paste arrives in foo, 93 at the latest")
    assert wall.shown == "95.0 °C" and "sent in F" in wall.steps


def test_an_old_recording_is_understood_and_keeps_what_was_sent(tmp_path: Path) -> None:
    run = Run(tmp_path)
    recorder = Recorder.create(tmp_path, run.clock.anchor(), rig="cooker", source="test:")
    for second, (unit, value) in enumerate([("C", 93.0), ("F", 203.0), ("Cel", 97.0)]):
        recorder.add_pack(Pack((SenmlRecord("Paste", unit, value, None, None),), START + second, None, None))
    recorder.commit()
    recorder.abandon()
    history = load(recorder.path)
    assert history.temperature_c("paste")[1].tolist() == pytest.approx([93.0, 95.0, 97.0])
    assert load(recorder.path, START + 1.0).temperature_c("paste")[1].tolist() == pytest.approx([93.0, 95.0])
