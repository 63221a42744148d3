"""The virtual rig as a whole: reproducible from its seed, and an ordinary maker's cook."""

from collections.abc import Sequence
from random import Random

import pytest

from monitor.estimation import Estimate
from monitor.estimation.estimate import NOTHING_YET
from monitor.formulation import read_sheet
from monitor.protocol import LineDecoder, Pack, encode_line
from monitor.simulator.operator import (
    Action,
    Advisor,
    Behaviour,
    FixedPractice,
    FollowsOutlook,
    Observed,
    judge_sample,
)
from monitor.simulator.sample_setting import BEGAN, invented_setting, invented_sheet
from monitor.simulator.simulation import Simulation, Step

LONGEST_S = 30_000


def whole_cook(seed: int) -> list[Step]:
    simulation = Simulation(invented_setting(), FixedPractice, seed, BEGAN)
    steps: list[Step] = []
    while not simulation.done and len(steps) < LONGEST_S:
        steps.append(simulation.step())
    assert simulation.done
    return steps


@pytest.fixture(scope="module")
def steps() -> list[Step]:
    return whole_cook(7)


def actions_of(steps: Sequence[Step]) -> list[Action]:
    return [action for step in steps for action in step.actions]


def as_bytes(steps: Sequence[Step]) -> bytes:
    return b"".join(encode_line(step.timed_records()) for step in steps)


def test_the_same_seed_gives_the_same_bytes(steps: list[Step]) -> None:
    again, other = whole_cook(7), whole_cook(8)
    assert as_bytes(again) == as_bytes(steps)
    assert actions_of(again) == actions_of(steps)
    assert as_bytes(other) != as_bytes(steps)


def test_every_line_is_a_pack_of_four_channels(steps: list[Step]) -> None:
    items = LineDecoder().feed(as_bytes(steps), BEGAN)
    assert len(items) == len(steps)
    for second, item in enumerate(items):
        assert isinstance(item, Pack)
        assert [(r.channel, r.unit) for r in item.records] == [
            ("paste", "Cel"),
            ("wall", "Cel"),
            ("room", "Cel"),
            ("ph", "V"),
        ]
        assert item.seq == second
        assert {record.time for record in item.records} == {BEGAN + second}


def test_a_separate_device_sends_no_time(steps: list[Step]) -> None:
    (pack,) = LineDecoder().feed(encode_line(steps[0].records), 5.0)
    assert isinstance(pack, Pack)
    assert all(record.time is None for record in pack.records)


def test_the_loose_probe_is_a_fault(steps: list[Step]) -> None:
    said = {second: steps[second].records[1] for second in (5699, 5700, 6119, 6120)}
    assert said[5700] == said[6119] == {"n": "wall", "u": "Cel", "vs": "open circuit"}
    assert "v" in said[5699]
    assert "v" in said[6120]


def test_the_cook_follows_the_usual_order(steps: list[Step]) -> None:
    actions = actions_of(steps)
    kinds = [action.kind for action in actions]
    assert kinds[:3] == ["lye in", "thick trace", "lid on"]
    assert kinds[-4:] == ["checked", "heat off", "ph read", "finished"]
    results = [action.fields["result"] for action in actions if action.kind == "checked"]
    assert results[-1] == "clear"
    assert "clear" not in results[:-1]
    lid_on = actions[2].at
    first_check = next(action.at for action in actions if action.kind == "checked")
    # Common practice, no source: first look at three hours.
    assert 10_800.0 <= first_check - lid_on <= 10_800.0 + 700.0
    stirs = [action.at for action in actions if action.kind == "stirred"]
    gaps_min = [(b - a) / 60.0 for a, b in zip([lid_on, *stirs], stirs, strict=False)]
    assert all(35.0 <= gap <= 60.0 for gap in gaps_min)


def test_the_person_reads_the_ph_that_the_probe_shows(steps: list[Step]) -> None:
    read = next(action for action in actions_of(steps) if action.kind == "ph read")
    volts = next(step for step in steps if step.at == read.at - 1.0).records[3]["v"]
    traits = invented_setting().electrode
    assert isinstance(volts, float)
    # Nernst at 25 degC, 59.159 mV a pH (ln 10 R T / F), with this probe's offset and slope.
    assert 7.0 - (volts - traits.offset_v) / (traits.slope * 0.059159) == pytest.approx(read.fields["ph"], abs=0.03)


def test_the_batch_says_that_it_is_invented() -> None:
    assert "invented" in read_sheet(invented_sheet()).title


class ConstantMonitor:
    """A monitor that always says the same."""

    def __init__(self, outlook: Estimate | None) -> None:
        self.outlook = outlook

    def __call__(self) -> Estimate | None:
        return self.outlook


def estimate_at(t: float, stir_due: float | None, check_due: float | None) -> Estimate:
    return Estimate(t, 60.0, 90.0, 60.0, (0.5, 0.6, 0.7), (None,) * 3, 0.1, stir_due, check_due, NOTHING_YET)


def test_the_operator_follows_the_monitor() -> None:
    advisor = FollowsOutlook(ConstantMonitor(estimate_at(2000.0, 3000.0, 4000.0)), FixedPractice(Behaviour()))
    assert advisor.due(Observed(1000.0)) == (3000.0, 4000.0)


def test_without_a_monitor_the_operator_follows_common_practice() -> None:
    practice: Advisor = FixedPractice(Behaviour())
    assert FollowsOutlook(ConstantMonitor(None), practice).due(Observed(1000.0)) == (1000.0 + 2100.0, 1000.0 + 10_800.0)


def test_advice_older_than_the_last_action_is_not_followed() -> None:
    advisor = FollowsOutlook(ConstantMonitor(estimate_at(2000.0, 1500.0, 1500.0)), FixedPractice(Behaviour()))
    assert advisor.due(Observed(1000.0, 2500.0)) == (float("inf"), float("inf"))


@pytest.mark.parametrize(("residual", "result"), [(0.004, "clear"), (0.02, "hazy"), (0.2, "cloudy")])
def test_a_sample_far_from_a_limit_is_judged_correctly(residual: float, result: str) -> None:
    rng = Random(3)
    assert {judge_sample(residual, 0.15, rng) for _ in range(200)} == {result}


def test_a_sample_at_the_limit_may_be_judged_either_way() -> None:
    rng = Random(3)
    assert {judge_sample(0.01, 0.15, rng) for _ in range(50)} == {"clear", "hazy"}
