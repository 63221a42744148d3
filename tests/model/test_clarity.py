"""One rule for what the checks of a cook say together, and that all who use it agree."""

import numpy as np
import pytest

from monitor.analysis import attribute_time_loss
from monitor.estimation import cook_evidence, first_prior, integrate_equivalent_time, update_posterior
from monitor.model import (
    Event,
    History,
    Series,
    checks_contradict,
    clear_bracket,
    clear_since,
    cook_end,
    last_not_clear,
    make_event,
)

LID_ON = 1_780_300_800.0
TIMES = LID_ON + np.arange(0.0, 21_600.0, 30.0)


def checked(results: str) -> list[Event]:
    """Checks 10 minutes apart from hour three on; c, h and o for clear, hazy and cloudy."""
    words = {"c": "clear", "h": "hazy", "o": "cloudy"}
    return [
        make_event(str(i), "checked", at := LID_ON + 10_800.0 + 600.0 * i, at, {"result": words[letter]})
        for i, letter in enumerate(results)
    ]


def cook(results: str) -> History:
    """A cook at 93 degC with these checks, finished after six hours."""
    paste = Series("paste", "Cel", TIMES, TIMES, np.full(len(TIMES), 93.0))
    end = LID_ON + 21_600.0
    events = (make_event("lid", "lid on", LID_ON, LID_ON), *checked(results), make_event("end", "finished", end, end))
    return History(LID_ON, end, {"paste": paste}, events)


@pytest.mark.parametrize(
    ("results", "contradict", "clear", "not_clear"),
    [
        ("", False, None, None),
        ("oh", False, None, 1),
        ("hc", False, 1, 0),
        ("hcc", False, 1, 0),
        ("hch", True, None, 2),
        ("chc", True, 2, 1),
        ("cohcc", True, 3, 2),
    ],
)
def test_a_cook_is_clear_from_its_last_unbroken_run_of_clear_checks(
    results: str, contradict: bool, clear: int | None, not_clear: int | None
) -> None:
    checks = checked(results)
    clear_at = None if clear is None else checks[clear].measured
    assert checks_contradict(checks) is contradict
    assert clear_since(checks) == clear_at
    history = cook(results)
    before = None if not_clear is None else checks[not_clear].measured
    assert last_not_clear(checks, history.as_of) == before
    assert clear_bracket(history) == (None if clear_at is None else (before, clear_at))
    assert cook_end(history) == (history.finished() if clear_at is None else clear_at)


@pytest.mark.parametrize("results", ["hc", "hch", "chc"])
def test_estimate_learning_and_time_loss_agree_when_a_cook_is_clear(results: str) -> None:
    history = cook(results)
    contradict = checks_contradict(checked(results))
    equivalent = integrate_equivalent_time(TIMES, np.full(len(TIMES), 93.0), history.events, LID_ON)
    caveats = update_posterior(first_prior(), equivalent, history.events, None).caveats
    assert any("contradict" in caveat for caveat in caveats) is contradict
    evidence, report = cook_evidence(history), attribute_time_loss(history, first_prior())
    assert evidence is not None and (evidence.checks == 0) is contradict
    assert report is not None and report.ended == cook_end(history)
