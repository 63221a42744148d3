"""One reading that is timed decades away: every page and every look back cost what they always cost."""

import math
import tracemalloc
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

import pytest

from dashboard.app import make_app
from monitor import open_cook, plots
from monitor.analysis import ALIGNMENTS
from monitor.cli import main
from monitor.exchange import export_package, import_package
from monitor.plots import cook_sparkline, curve
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime.clock import JumpClock
from monitor.session import IDEAL, Cook, CookLibrary, LiveCook, cook_time_loss
from tests.dashboard.pages.test_compare import compared
from tests.dashboard.pages.test_kitchen import kitchen_chart
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
IN_2100, IN_1970 = 4.11e9, 5000.0
# What the pages of a cook of an hour take at the most is a fifth of this.
MOST_BYTES = 60e6
NOW = JumpClock().now()


@contextmanager
def bounded() -> Iterator[None]:
    """Fails where more is held at once than any cook of some hours takes."""
    tracemalloc.start()
    try:
        yield
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert most < MOST_BYTES, f"{most / 1e6:.0f} MB"


def spoilt(folder: Path, measured: float, known: float, value: float = 80.5) -> tuple[Maker, JumpClock]:
    """A cook of an hour with one such reading in the middle, paste and wall, and one event logged after it."""
    clock = JumpClock()
    maker = Maker(folder, clock, hours=1.0)
    maker.recorder.add_pack(
        Pack(tuple(SenmlRecord(name, "Cel", value, None, measured) for name in ("paste", "wall")), known, None, None)
    )
    maker.log("stirred", 3500)
    return maker, clock


FAR = pytest.mark.parametrize(
    ("measured", "known"),
    [(IN_2100, NOW - 1200.0), (IN_1970, NOW - 1200.0), (IN_2100, IN_2100), (IN_1970, IN_1970)],
    ids=["says 2100", "says 1970", "came in 2100", "came in 1970"],
)


@FAR
def test_a_running_cook_answers_as_usual(tmp_path: Path, measured: float, known: float) -> None:
    maker, clock = spoilt(tmp_path, measured, known)
    cook = LiveCook(maker.path, lambda _: clock)
    clean = JumpClock()
    twin = Cook(Maker(tmp_path / "twin", clean, hours=1.0).path, lambda _: clean)
    clock.moment = clean.moment = NOW + 2.0
    with bounded():
        outlook, twins = cook.outlook(), twin.outlook()
        cook.offered_suggestions()
        for back_s in (0.0, 600.0, 1500.0):
            cook.as_of(NOW - back_s)
        assert cook.history().series["paste"].measured.max() <= max(NOW, known)
    if known < NOW and known > maker.started:
        assert outlook.estimate.temperature_c is not None and twins.estimate.temperature_c is not None
        assert abs(outlook.estimate.temperature_c - twins.estimate.temperature_c) < 0.5
        assert not {one.name for one in outlook.alarms} - {one.name for one in twins.alarms}
    client = make_app(CookLibrary(tmp_path, lambda _: clock), KEY).test_client()
    client.get(f"/?key={KEY}")
    with bounded():
        for page in ("/", f"/live?cook={cook.name}", "/live-all", "/cooks", f"/cooks/{cook.name}/then?t={NOW}"):
            assert client.get(page).status_code == 200, page
    # Fifteen seconds without a pack are silence, whatever that reading said.
    clock.moment = max(NOW, known) + 60.0
    if known < NOW:
        assert [one.name for one in Cook(maker.path, lambda _: clock).outlook().alarms] == ["no data"]
    maker.recorder.close()


@FAR
def test_a_finished_cook_is_shown_replayed_compared_exported_and_imported(
    tmp_path: Path, measured: float, known: float, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "cooks"
    maker, clock = spoilt(folder, measured, known)
    maker.log("checked", 3590, {"result": "clear"})
    maker.finish()
    other = Maker(folder, clock, title="Beside it", seed=8, hours=0.6)
    other.finish()
    with bounded():
        cook = LiveCook(maker.path, lambda _: clock)
        history, outlook = cook.as_of(cook.now())
        cook_time_loss(maker.path, IDEAL)
        for way in ALIGNMENTS:
            cook.track(way)
        opened = open_cook(maker.path)
        assert cook_sparkline(*curve(history)) and plots.cook(opened.readings(), opened.events(), outlook.estimate).data
        cook.suggestions()
        CookLibrary(folder).interval_coverage()
    client = make_app(CookLibrary(folder, lambda _: clock), KEY).test_client()
    client.get(f"/?key={KEY}")
    pages = ["/cooks", f"/cooks/{cook.name}", f"/record/{cook.name}", "/kitchen"]
    names = [cook.name, other.path.stem]
    pages += [f"/compare?cook={names[0]}&cook={names[1]}&by={quote(way)}" for way in ALIGNMENTS]
    with bounded():
        for page in pages:
            assert client.get(page).status_code == 200, page
        for way in ALIGNMENTS:
            assert compared(client, names, way)[0]["figure"]
        assert kitchen_chart(client, "need-by-cook")["rows"] and kitchen_chart(client, "warm-up")["words"]
    with bounded():
        assert main(["list", "--recordings", str(folder)]) == 0
        assert main(["show", cook.name, "--recordings", str(folder)]) == 0
        export_package(maker.path, tmp_path / "package")
        again = import_package(tmp_path / "package", tmp_path / "again")
    capsys.readouterr()
    assert len(Cook(again).history().series["paste"]) == len(cook.history().series["paste"])


@pytest.mark.parametrize("value", [1e12, -1e12, 1e300])
def test_an_absurd_reading_does_not_make_an_endless_scale(tmp_path: Path, value: float) -> None:
    maker, clock = spoilt(tmp_path, NOW - 1200.0, NOW - 1200.0, value)
    maker.finish()
    client = make_app(CookLibrary(tmp_path, lambda _: clock), KEY).test_client()
    client.get(f"/?key={KEY}")
    with bounded():
        for page in (f"/record/{maker.path.stem}", f"/cooks/{maker.path.stem}", "/cooks"):
            assert client.get(page).status_code == 200, page
    assert math.isfinite(value)
