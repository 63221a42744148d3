"""Bad lines and lost packs are counted, and become events at most once a minute."""

from itertools import pairwise
from pathlib import Path

from monitor.protocol import Pack, parse_pack
from monitor.storage import load
from tests.logger.scripted import START, Run, bad, count_of, pack, timed_pack


def test_bad_lines_are_counted_and_logged_at_most_once_a_minute(tmp_path: Path) -> None:
    run = Run(tmp_path).record(*((START + i, bad(START + i)) for i in range(150)), (START + 200, bad(START + 200)))
    noted = [event for event in load(run.cooks[0]).events if event.kind == "bad line"]
    # The last is what was left at the end.
    assert [count_of(event) for event in noted] == [1, 60, 60, 29, 1]
    assert all(later.measured - earlier.measured >= 60 for earlier, later in pairwise(noted[:-1]))
    assert noted[0].fields["bytes"] == "xyz" and noted[0].fields["reason"] == "it is not JSON"


def test_lost_packs_are_counted_by_seq(tmp_path: Path) -> None:
    seqs = [5, 6, 9, 10, 0, 1, 4]
    run = Run(tmp_path).record(
        *((START + i, pack(60.0, START + i, seq)) for i, seq in enumerate(seqs)),
        (START + 70, pack(60.0, START + 70, 5)),
    )
    noted = [event for event in load(run.cooks[0]).events if event.kind == "packs lost"]
    assert [count_of(event) for event in noted] == [2, 2]


def test_a_late_pack_is_not_taken_for_a_restart_of_the_sender(tmp_path: Path) -> None:
    def timed(seq: int, at: float) -> Pack:

        text = f'[{{"n":"paste","u":"Cel","t":{at},"v":60}},{{"n":"seq","u":"count","v":{seq}}}]'
        return parse_pack(text, at + 30)

    order = [1, 2, 4, 3, 5, 6]
    run = Run(tmp_path).record(*((START + i, timed(seq, START + seq)) for i, seq in enumerate(order)))
    assert sum(count_of(e) for e in load(run.cooks[0]).events if e.kind == "packs lost") == 1
    assert len(load(run.cooks[0]).series["paste"]) == 6


def test_a_time_far_ahead_does_not_hide_lost_packs(tmp_path: Path) -> None:
    stray = timed_pack(60.0, START + 3, 4.1e9, 3)
    steps = [(START + i, timed_pack(60.0, START + i, START + i, i)) for i in (0, 1, 2)]
    more = [(START + i, timed_pack(60.0, START + i, START + i, i)) for i in (5, 8)]
    run = Run(tmp_path).record(*steps, (START + 3, stray), *more)
    assert sum(count_of(e) for e in load(run.cooks[0]).events if e.kind == "packs lost") == 3
