"""The outcome of a cook in the list: by the same rule for its checks as the estimate and the time loss."""

from pathlib import Path

import pytest

from monitor.model import make_event
from monitor.runtime import Anchor
from monitor.session.outcome import outcome
from monitor.storage import Recorder, summary
from tests.logger.scripted import START


@pytest.mark.parametrize(
    ("results", "text"),
    [
        (("hazy", "clear", "clear"), "clear after 2 h 00 min"),
        (("clear", "hazy", "clear"), "clear after 3 h 00 min"),
        (("clear", "hazy"), "last check hazy"),
        ((), "under way"),
    ],
)
def test_a_cook_came_clear_at_the_first_of_the_last_clear_checks(
    tmp_path: Path, results: tuple[str, ...], text: str
) -> None:
    recorder = Recorder.create(tmp_path, Anchor(START, START, "", 0.0), rig="cooker", source="test:")
    recorder.add_event(make_event("lid-on-it", "lid on", START, START))
    for hour, result in enumerate(results, start=1):
        at = START + 3600.0 * hour
        recorder.add_event(make_event(f"check-{hour:03}", "checked", at, at, {"result": result}))
    recorder.close()
    assert outcome(summary(recorder.path)) == text
