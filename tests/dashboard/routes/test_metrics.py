"""``/metrics``, read by the parser of the format's own Python library."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from prometheus_client.parser import text_string_to_metric_families

from dashboard.app import make_app
from dashboard.routes.metrics import FAMILIES, Sample, exposition
from monitor.model import make_event
from monitor.protocol import parse_pack
from monitor.runtime.clock import JumpClock
from monitor.session import CookLibrary
from monitor.storage import Recorder
from tests.dashboard.seeded import Maker

KEY = "a-key-for-tests"
BEARER = {"Authorization": f"Bearer {KEY}"}


@pytest.fixture
def clock() -> JumpClock:
    return JumpClock()


@pytest.fixture
def maker(tmp_path: Path, clock: JumpClock) -> Iterator[Maker]:
    made = Maker(tmp_path, clock, hours=2.0, rig="left")
    yield made
    made.recorder.close()


@pytest.fixture
def scraper(tmp_path: Path, clock: JumpClock) -> FlaskClient:
    """A monitoring system, which keeps no cookie."""
    return make_app(CookLibrary(tmp_path, lambda _: clock), KEY).test_client(use_cookies=False)


def scraped(scraper: FlaskClient) -> dict[str, dict[tuple[tuple[str, str], ...], float]]:
    """The samples by name and labels, as the format's own parser reads them."""
    answer = scraper.get("/metrics", headers=BEARER)
    assert answer.status_code == 200 and answer.content_type == "text/plain; version=0.0.4; charset=utf-8"
    found: dict[str, dict[tuple[tuple[str, str], ...], float]] = {}
    for family in text_string_to_metric_families(answer.text):
        for sample in family.samples:
            assert sample.name in FAMILIES and family.documentation == FAMILIES[sample.name][1]
            assert family.type == FAMILIES[sample.name][0]
            labels = tuple(sorted(sample.labels.items()))
            assert labels not in found.setdefault(sample.name, {})
            found[sample.name][labels] = sample.value
    return found


def test_a_cook_under_way_is_told_as_the_page_tells_it(scraper: FlaskClient, maker: Maker, clock: JumpClock) -> None:
    found = scraped(scraper)
    cook = CookLibrary(maker.path.parent, lambda _: clock).running("left")
    assert cook is not None
    outlook, history, now = cook.outlook(), cook.history(), cook.now()
    rig = (("rig", "left"),)
    assert found["kettleside_paste_temperature_celsius"] == {rig: pytest.approx(history.temperature_c("paste")[1][-1])}
    for place, percentile in enumerate(("10", "50", "90")):
        labels = (("percentile", percentile), *rig)
        clear = outlook.estimate.clear_at[place]
        assert clear is not None
        assert found["kettleside_done_ratio"][labels] == pytest.approx(outlook.estimate.done[place])
        assert found["kettleside_converted_ratio"][labels] == pytest.approx(outlook.estimate.converted[place])
        assert found["kettleside_clear_seconds"][labels] == pytest.approx(clear - now)
    assert found["kettleside_chance_clear_ratio"][rig] == pytest.approx(outlook.estimate.chance_clear)
    assert outlook.stir_due is not None and outlook.check_due is not None
    assert found["kettleside_stir_due_seconds"][rig] == pytest.approx(outlook.stir_due - now)
    assert found["kettleside_check_due_seconds"][rig] == pytest.approx(outlook.check_due - now)
    assert found["kettleside_readings_total"][rig] == sum(len(series) for series in history.series.values()) > 20_000
    assert 0.0 <= found["kettleside_last_reading_age_seconds"][rig] < 2.0
    assert (found["kettleside_cooks_running"], found["kettleside_cooks_unreadable"]) == ({(): 1.0}, {(): 0.0})


def test_alarms_are_told_by_name_and_state_and_a_silent_rig_has_no_temperature(
    scraper: FlaskClient, maker: Maker, clock: JumpClock
) -> None:
    clock.moment += 120.0
    found = scraped(scraper)
    alarm = (("name", "no data"), ("rig", "left"), ("state", "unacknowledged"))
    assert found["kettleside_alarm"][alarm] == 1.0
    assert "kettleside_paste_temperature_celsius" not in found
    assert found["kettleside_last_reading_age_seconds"][(("rig", "left"),)] == pytest.approx(121.0, abs=1.5)


def test_a_paste_probe_that_is_open_has_no_temperature(scraper: FlaskClient, maker: Maker, clock: JumpClock) -> None:
    for _ in range(60):
        clock.moment += 1.0
        maker.recorder.add_pack(parse_pack('[{"n":"paste","u":"Cel","vs":"open circuit"}]', clock.now()))
    maker.recorder.commit()
    found = scraped(scraper)
    assert "kettleside_paste_temperature_celsius" not in found
    assert any(("name", "paste probe open") in labels for labels in found["kettleside_alarm"])


def test_two_cooks_and_none(tmp_path: Path, clock: JumpClock, scraper: FlaskClient) -> None:
    assert scraped(scraper) == {"kettleside_cooks_running": {(): 0.0}, "kettleside_cooks_unreadable": {(): 0.0}}
    for rig in ("left", "right"):
        recorder = Recorder.create(tmp_path, clock.anchor(), rig=rig, source="test:")
        recorder.add_event(make_event(f"lid-of-{rig}", "lid on", clock.now(), clock.now()))
        recorder.commit()
        recorder.close()
    clock.moment += 60.0
    found = scraped(scraper)
    assert found["kettleside_cooks_running"] == {(): 2.0}
    assert found["kettleside_readings_total"] == {(("rig", "left"),): 0.0, (("rig", "right"),): 0.0}


def test_a_recording_that_cannot_be_read_costs_no_other(
    tmp_path: Path, clock: JumpClock, maker: Maker, scraper: FlaskClient
) -> None:
    other = Recorder.create(tmp_path, clock.anchor(), rig="right", source="test:")
    other.commit()
    other.close()
    assert scraped(scraper)["kettleside_cooks_running"] == {(): 2.0}
    content = bytearray(other.path.read_bytes())
    content[:] = b"\xff" * len(content)
    other.path.write_bytes(content)
    found = scraped(scraper)
    assert ("rig", "left") in next(iter(found["kettleside_readings_total"]))


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Authorization": "Bearer "},
        {"Authorization": "Bearer a-key-for-test"},
        {"Authorization": f"Bearer {KEY}x"},
        {"Authorization": f"Basic {KEY}"},
        {"Authorization": "Bearer \xe4\xff"},
    ],
)
def test_without_the_key_nothing_is_told(scraper: FlaskClient, maker: Maker, headers: dict[str, str]) -> None:
    answer = scraper.get("/metrics", headers=headers)
    assert answer.status_code == 401 and "kettleside_" not in answer.text


def test_the_token_opens_nothing_else_and_pairs_nobody(scraper: FlaskClient, maker: Maker) -> None:
    for path in ("/", "/cooks", "/live", "/metrics/"):
        assert scraper.get(path, headers=BEARER).status_code in (401, 404)
    assert scraper.post("/metrics", headers=BEARER).status_code != 200
    assert "Set-Cookie" not in scraper.get("/metrics", headers=BEARER).headers


def test_a_paired_browser_may_look(scraper: FlaskClient, maker: Maker) -> None:
    browser: Any = scraper.application.test_client()
    browser.get(f"/?key={KEY}")
    assert "kettleside_cooks_running 1" in browser.get("/metrics").text


def test_a_label_may_hold_anything() -> None:
    name = 'back\\slash "quoted"\nnew line Ω'
    (family,) = text_string_to_metric_families(exposition([Sample("kettleside_alarm", {"name": name}, 1)]))
    assert family.samples[0].labels == {"name": name}


def test_the_manual_has_every_figure_by_its_name() -> None:
    page = (Path(__file__).resolve().parents[3] / "dashboard" / "manual" / "scripts.md").read_text(encoding="utf-8")
    assert set(re.findall(r"`(kettleside_\w+)`", page)) == set(FAMILIES)
