"""The public face: frames of recordings with their units, and an estimate that is the cook's own."""

import math
import subprocess
import sys
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

import monitor
from monitor.exchange import (
    ExchangeError,
    events_frame,
    history_from_frames,
    parse_layout,
    parse_table,
    readings_frame,
    store_table,
    unix_seconds,
    utc_index,
    zone_named,
)
from monitor.model import Event, Reading, history_from_readings
from monitor.storage import RecordingError

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = sorted((ROOT / "recordings").glob("*.cook"))
START = 1_773_484_800.0


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("hours", [0.1, 0.5, 1.0, 2.0, 2.5, 3.2])
def test_an_estimate_from_frames_equals_the_cooks_own(path: Path, hours: float) -> None:
    cook = monitor.open_cook(path)
    at = cook.readings().index[0] + pd.Timedelta(hours=hours)
    own = cook.outlook(at).estimate
    from_frames = monitor.estimate(cook.readings(at), cook.events(at), cook.batch, at=at)
    assert from_frames == monitor.estimate(cook.readings(at), cook.events(at), cook.batch, at=at, prior=cook.prior)
    assert from_frames == own


def test_at_least_one_of_these_estimates_is_not_empty() -> None:
    cook = monitor.open_cook(SAMPLES[0])
    at = cook.readings().index[0] + pd.Timedelta(hours=2)
    assert 0.5 < monitor.estimate(cook.readings(), cook.events(), cook.batch, at=at).converted[1] < 1.0
    without_events = monitor.estimate(cook.readings(), at=at)
    assert without_events.converted != monitor.estimate(cook.readings(), cook.events(), at=at).converted


def test_frames_that_were_cut_or_moved_to_another_zone_give_an_estimate() -> None:
    cook = monitor.open_cook(SAMPLES[0])
    at = cook.readings().index[0] + pd.Timedelta(hours=2)
    expected = monitor.estimate(cook.readings(), cook.events(), at=at)
    here = cook.readings().tz_convert("Asia/Kolkata")[["paste_c"]]
    assert monitor.estimate(here, cook.events().tz_convert("Asia/Kolkata"), at=at) == expected


def test_a_frame_without_attributes_names_its_units_by_its_columns() -> None:
    times = pd.date_range("2026-03-14T10:40Z", periods=400, freq="30s")
    celsius = pd.DataFrame({"paste_c": np.full(400, 93.0)}, times)
    fahrenheit = pd.DataFrame({"paste_f": np.full(400, 93.0 * 1.8 + 32.0)}, times)
    kelvin = pd.DataFrame({"paste_k": np.full(400, 93.0 + 273.15)}, times)
    expected = monitor.estimate(celsius)
    assert expected.converted[1] > 0.5
    assert monitor.estimate(fahrenheit).converted == pytest.approx(expected.converted)
    assert monitor.estimate(kelvin).converted == pytest.approx(expected.converted)


@pytest.mark.parametrize(
    ("readings", "events", "said"),
    [
        (pd.DataFrame({"paste_c": [1.0]}), None, "must be times"),
        (pd.DataFrame({"paste": [1.0]}, pd.DatetimeIndex(["2026-03-14"])), None, "does not name its unit"),
        (
            pd.DataFrame({"paste_c": [1.0]}, pd.DatetimeIndex(["2026-03-14"])),
            pd.DataFrame({"what": ["stirred"]}, pd.DatetimeIndex(["2026-03-14"])),
            "a column 'kind'",
        ),
    ],
)
def test_an_unsuitable_frame_is_refused_with_a_reason(
    readings: pd.DataFrame, events: pd.DataFrame | None, said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        monitor.estimate(readings, events)


# The same moment twice, out of order, and values that are faults.
sampled = st.lists(
    st.tuples(st.sampled_from(["paste", "wall"]), st.floats(START, START + 9.0), st.none() | st.floats(-1e6, 1e6)),
    max_size=12,
)


@given(sampled, st.lists(st.tuples(st.floats(START, START + 9.0), st.sampled_from(["clear", "hazy"])), max_size=3))
def test_frames_contain_every_reading_and_event(
    rows: list[tuple[str, float, float | None]], checks: list[tuple[float, str]]
) -> None:
    readings = [
        Reading(channel, "Cel", math.floor(measured), measured, value, None if value is not None else "open")
        for channel, measured, value in rows
    ]
    events = [
        Event(f"check-{i:08d}", "checked", measured, measured + 1.0, MappingProxyType({"result": result}))
        for i, (measured, result) in enumerate(checks)
    ]
    history = history_from_readings(readings, events)
    back = history_from_frames(readings_frame(history), events_frame(history), at=history.as_of)
    assert back.events == history.events
    for channel, series in history.series.items():
        good = ~np.isnan(series.value)
        if good.any():
            assert back.series[channel].measured.tolist() == series.measured[good].tolist()
            assert back.series[channel].value.tolist() == series.value[good].tolist()
        else:
            assert channel not in back.series


@given(st.floats(2.0**23, 9_223_372_036.0) | st.floats(1e10, 9e10).map(round))
def test_a_time_survives_the_frames_index(moment: float) -> None:
    assert unix_seconds(utc_index(np.array([moment]))).tolist() == [moment]


def test_faults_keep_the_senders_text() -> None:
    cook = monitor.open_cook(next(path for path in SAMPLES if "loose-probe" in path.name))
    faults = cook.faults()
    assert len(faults) == 154 and set(faults["channel"]) == {"paste"}
    assert cook.readings()["paste_c"].reindex(faults.index).isna().all()
    assert len(cook.faults(cook.readings().index[10])) == 0


def test_a_moment_may_be_given_in_any_form() -> None:
    cook = monitor.open_cook(SAMPLES[0])
    whole = cook.readings()
    at = whole.index[700]
    assert len(cook.readings(at)) == len(cook.readings(at.isoformat())) == len(cook.readings(at.timestamp()))
    assert 690 < len(cook.readings(at)) < len(whole)


def test_the_losses_of_a_cook_add_up_and_name_their_reference() -> None:
    cook = monitor.open_cook(next(path for path in SAMPLES if "power-cut" in path.name))
    loss = cook.time_loss("ideal")
    assert loss["lost_s"].sum() == pytest.approx(loss.attrs["total_s"], abs=1e-6)
    assert loss.attrs["reference"] == "an ideal cook at the kitchen's plateau" and loss.attrs["units"] == {
        "lost_s": "s"
    }
    against = cook.time_loss(SAMPLES[0].stem)
    assert against.attrs["reference"] == f"the cook {SAMPLES[0].stem}"
    with pytest.raises(RecordingError):
        cook.time_loss("no such cook")


def test_a_folder_lists_its_cooks_and_what_it_cannot_read(tmp_path: Path) -> None:
    (tmp_path / SAMPLES[0].name).write_bytes(SAMPLES[0].read_bytes())
    (tmp_path / "2026-05-03T090000Z-broken.cook").write_bytes(b"no recording")
    listed = monitor.cooks(tmp_path)
    assert listed.index.tolist() == [SAMPLES[0].stem] and listed["finished"].notna().all()
    assert len(listed.attrs["unreadable"]) == 1
    assert monitor.open_cook(listed["path"].iloc[0]).title == listed["title"].iloc[0]
    with pytest.raises(RecordingError, match="no such folder"):
        monitor.cooks(tmp_path / "nowhere")


def test_a_table_without_a_date_needs_its_start(tmp_path: Path) -> None:
    table = tmp_path / "table.csv"
    table.write_text("elapsed min,paste °C\n0,80\n1,open\n2,93.5\n", encoding="utf-8")
    with pytest.raises(ExchangeError, match="start"):
        monitor.read_table(table)
    frame = monitor.read_table(table, start=pd.Timestamp("2026-03-14T10:40Z"))
    assert (
        frame["paste_c"].dropna().tolist() == [80.0, 93.5]
        and frame.index[-1].isoformat() == "2026-03-14T10:42:00+00:00"
    )
    (tmp_path / "words.csv").write_text("a,b\nc,d\n", encoding="utf-8")
    with pytest.raises(ExchangeError, match="columns"):
        monitor.read_table(tmp_path / "words.csv")


@pytest.mark.parametrize(
    ("columns", "content"),
    [
        # Decimal commas, a fault in words, rows out of order, a Fahrenheit cell, in the code page of a spreadsheet.
        (
            "time:dmy,paste:Cel,wall:Cel",
            "Zeit;Seife °C;Wand °C\n14.03.2026 11:40:30;94,25;101,5\n14.03.2026 11:40:00;offen;100\n"
            "14.03.2026 11:41:00;199,4 °F;\n",
        ),
        ("time:iso,ph:mV", "stamp\tprobe\n2026-03-14T10:40:00Z\t-177.5\n2026-03-14T10:40:30Z\t-178\n"),
        # The hour that the clocks repeat.
        (
            "time:ymd,paste:K",
            "2026-10-25 02:30:00|366.15\n2026-10-25 02:59:59|366.25\n2026-10-25 02:30:00|366.35\n",
        ),
    ],
)
def test_a_table_gives_the_same_frame_as_its_imported_cook(tmp_path: Path, columns: str, content: str) -> None:
    table = tmp_path / "table.csv"
    table.write_bytes(content.encode("cp1252"))
    layout = parse_layout(columns, zone_named("Europe/Berlin"))
    path = store_table(parse_table(table, layout, lambda *_: None), table, tmp_path / "cooks", START, lambda *_: None)
    imported = monitor.open_cook(path).readings()
    frame = monitor.read_table(table, columns, zone="Europe/Berlin")
    pd.testing.assert_frame_equal(frame, imported)
    assert frame.attrs == imported.attrs and len(frame) == content.count("\n") - content.count("Zeit") - content.count(
        "stamp"
    )


def test_importing_the_package_loads_none_of_its_libraries() -> None:
    code = "import monitor, sys; print(*sorted({'numpy', 'pandas', 'plotly', 'dash'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.strip() == ""


def test_the_public_names_are_exactly_those_listed() -> None:
    for name in monitor.__all__:
        assert getattr(monitor, name) is not None and name in dir(monitor)
    with pytest.raises(AttributeError, match="nothing_like_it"):
        monitor.__getattr__("nothing_like_it")
