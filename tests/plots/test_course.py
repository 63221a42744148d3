"""The course of a cook: what a person reads off the strip, what it weighs, and what it says without being seen."""

import numpy as np
import pandas as pd
import plotly.graph_objects as go
import pytest

import monitor
from monitor import plots
from monitor.plots.channels import local_text
from monitor.plots.style import DARK
from tests.plots.test_figures import SAMPLES

# Of the cook with the power cut: the paste cools, comes back, and is near clear.
FALLING, NEARLY = pd.Timestamp("2026-05-09T11:10Z"), pd.Timestamp("2026-05-09T13:10Z")


def course_at(name: str, at: pd.Timestamp | None = None, zone: str = "UTC", dark: bool = False) -> go.Figure:
    cook = monitor.open_cook(SAMPLES[name])
    return plots.course(
        cook.readings(at).tz_convert(zone), cook.events(at), cook.outlook(at).estimate, title=cook.title, dark=dark
    )


def trace(figure: go.Figure, name: str) -> go.Scatter:
    (found,) = [one for one in figure.data if one.name == name]
    return found


def moment(text: str) -> pd.Timestamp:
    return pd.Timestamp(text)


def ms(text: str) -> float:
    return 1000.0 * moment(text).timestamp()


def annotated(figure: go.Figure) -> list[str]:
    return [note.text for note in figure.layout.annotations]


def glasses(figure: go.Figure, axis: str) -> list[str]:
    """Where the glasses of an axis stand, one for each."""
    return sorted({shape.xanchor for shape in figure.layout.shapes if shape.type == "path" and shape.yref == axis})


def test_a_cook_under_way_shows_what_was_done_now_and_what_is_expected() -> None:
    figure = course_at("power-cut", NEARLY)
    assert [moment(at).strftime("%H:%M") for at in trace(figure, "stirred").x] == ["10:55", "13:03"]
    assert list(trace(figure, "checked").text) == ["hazy", "hazy"]
    assert glasses(figure, "y3") == list(trace(figure, "checked").x)
    (now,) = [shape for shape in figure.layout.shapes if shape.type == "line"]
    # The glasses hide it, so it does not run through their print.
    assert figure.layout.shapes[0] == now
    assert moment(now.x0) == NEARLY.tz_localize(None) and "now 13:10" in annotated(figure)
    expected = trace(figure, "expected")
    assert moment(expected.x[0]) == NEARLY.tz_localize(None) and 80 < min(expected.y) < max(expected.y) < 100


def test_the_hill_is_the_density_of_the_estimate_and_the_planned_check_stands_on_it() -> None:
    cook = monitor.open_cook(SAMPLES["power-cut"])
    estimate = cook.outlook(NEARLY).estimate
    assert estimate.check_due is not None
    figure = course_at("power-cut", NEARLY)
    hill, check = trace(figure, "clear time"), trace(figure, "check planned")
    by = dict(zip(hill.x, hill.customdata, strict=True))
    for stated, share in zip(estimate.clear_at, (10, 50, 90), strict=True):
        assert stated is not None
        nearest = min(by, key=lambda at: abs(ms(at) - 1000.0 * stated))
        assert by[nearest] == pytest.approx(share, abs=6)
    assert list(check.x) == local_text([estimate.check_due], "UTC") == glasses(figure, "y2")
    assert check.y[0] == pytest.approx(np.interp(ms(check.x[0]), [ms(at) for at in hill.x], hill.y), abs=0.001)
    assert f"check {moment(check.x[0]):%H:%M}" in annotated(figure)


def test_the_hill_and_the_next_stir_are_named_where_there_is_room() -> None:
    figure = course_at("power-cut", NEARLY)
    words = annotated(figure)
    assert "clear,<br>8 in 10" in words
    (stir,) = [note for note in figure.layout.annotations if note.text.startswith("stir ")]
    assert stir.text == f"stir {moment(trace(figure, 'stir due').x[0]):%H:%M}"
    # Half an hour after now, on a phone: beside the line of now, not across it.
    assert moment(stir.x) > NEARLY.tz_localize(None) and stir.xanchor == "left"
    # Shortly before the end of a hill most of which has passed neither has room.
    late = annotated(course_at("power-cut", pd.Timestamp("2026-05-09T15:00Z")))
    assert not any(note.startswith(("clear,", "stir ")) for note in late)


def test_the_first_clear_check_has_its_time_and_keeps_it_beside_now() -> None:
    cook = monitor.open_cook(SAMPLES["smooth"])
    done = course_at("smooth")
    (clear,) = [note for note in done.layout.annotations if note.text.startswith("clear ")]
    assert clear.text == f"clear {moment(trace(done, 'checked').x[-1]):%H:%M}"
    events = cook.events()
    running = plots.course(cook.readings(), events[events["kind"] != "finished"], cook.outlook().estimate)
    (now,) = [note for note in running.layout.annotations if note.text.startswith("now ")]
    (clear,) = [note for note in running.layout.annotations if note.text.startswith("clear ")]
    assert clear.xanchor == "right" and clear.x == now.x and clear.xshift < 0
    assert not any(note.startswith("clear ") for note in annotated(course_at("power-cut", NEARLY)))


def test_the_words_of_a_narrow_gap_stand_upright_in_the_longest() -> None:
    (words,) = [note for note in course_at("loose-probe").layout.annotations if note.text == "no readings"]
    gaps = [one for one in course_at("loose-probe").data if one.meta == "no readings"]
    longest = max(gaps, key=lambda one: ms(one.x[1]) - ms(one.x[0]))
    assert words.textangle == -90 and longest.x[0] < words.x < longest.x[1]


def test_the_hill_has_one_top_and_no_teeth() -> None:
    heights = np.array(trace(course_at("power-cut", NEARLY), "clear time").y)
    turns = np.diff(np.sign(np.diff(heights)))
    assert np.count_nonzero(turns) <= 2


def test_a_finished_cook_expects_nothing() -> None:
    figure = course_at("power-cut")
    names = {one.name for one in figure.data}
    assert not names & {"expected", "clear time", "check planned", "stir due"} and not any(
        note.startswith("now") for note in annotated(figure)
    )
    assert list(trace(figure, "checked").text) == ["hazy"] * 5 + ["clear"]
    end = moment(figure.layout.xaxis.range[1])
    assert pd.Timedelta(0) < end - pd.Timestamp("2026-05-09T15:19") < pd.Timedelta(minutes=15)


def test_missing_readings_break_the_line_and_are_hatched_and_named() -> None:
    figure = course_at("loose-probe")
    line = trace(figure, "paste")
    gaps = [one for one in figure.data if one.meta == "no readings"]
    assert len(gaps) == 2 and all(gap.fillpattern.shape == "/" for gap in gaps)
    at = ms(line.x0) + line.dx * np.arange(len(line.y))
    for gap in gaps:
        inside = (at > ms(gap.x[0])) & (at + line.dx <= ms(gap.x[1]))
        assert inside.any() and np.isnan(line.y[inside]).all()
    assert "readings are missing in 2 places" in plots.alt_text(figure)
    assert not [one for one in course_at("smooth").data if one.meta == "no readings"]


def test_a_silence_up_to_now_is_a_gap_too() -> None:
    cook = monitor.open_cook(SAMPLES["smooth"])
    heard = cook.readings("2026-05-02T10:30Z")
    figure = plots.course(heard, cook.events("2026-05-02T10:30Z"), cook.outlook("2026-05-02T11:00Z").estimate)
    (gap,) = [one for one in figure.data if one.meta == "no readings"]
    assert moment(gap.x[1]) == pd.Timestamp("2026-05-02T11:00")


def test_readings_every_two_minutes_make_one_line() -> None:
    cook = monitor.open_cook(SAMPLES["smooth"])
    thin = cook.readings().iloc[::12]
    line = trace(plots.course(thin, cook.events()), "paste")
    assert not np.isnan(line.y[1:]).any()


def test_troubles_are_dotted_and_named_and_one_that_goes_on_reaches_to_now() -> None:
    cook = monitor.open_cook(SAMPLES["power-cut"])
    troubles = pd.DataFrame(
        {
            "cause": ["heat lost"],
            "begin": [pd.Timestamp("2026-05-09T10:54Z")],
            "end": pd.DatetimeIndex([None], tz="UTC"),
        }
    )
    estimate = cook.outlook(NEARLY).estimate
    figure = plots.course(cook.readings(NEARLY), cook.events(NEARLY), estimate, troubles=troubles)
    (stretch,) = [one for one in figure.data if one.meta == "heat lost"]
    assert stretch.fillpattern.shape == "." and "heat lost" in annotated(figure)
    assert [moment(at).strftime("%H:%M") for at in stretch.x[:2]] == ["10:54", "13:10"]
    assert "heat lost" in plots.table(figure)["what"].tolist()


def test_a_touch_on_a_bar_shades_its_stretch() -> None:
    loss = monitor.open_cook(SAMPLES["power-cut"]).time_loss("ideal")
    figure = course_at("power-cut")
    marked = plots.shaded(figure, loss["begin"].iloc[0], loss["end"].iloc[0], "heat lost")
    assert len(marked.data) == len(figure.data) + 1 and "heat lost" in annotated(marked)
    assert moment(marked.data[-1].x[0]) == loss["begin"].iloc[0].tz_localize(None).floor("s")


def test_every_dip_of_a_stir_is_still_in_the_line() -> None:
    cook = monitor.open_cook(SAMPLES["smooth"])
    figure = course_at("smooth")
    line = trace(figure, "paste")
    at = ms(line.x0) + line.dx * np.arange(len(line.y))
    read = cook.readings()["paste_c"]
    for stirred in trace(figure, "stirred").x:
        around = (at >= ms(stirred) - 120_000) & (at <= ms(stirred) + 420_000)
        begin = moment(stirred).tz_localize("UTC")
        lowest = read[begin - pd.Timedelta(minutes=2) : begin + pd.Timedelta(minutes=7)].min()
        assert np.nanmin(line.y[around]) <= lowest + 0.4
    assert float(np.nanmax(line.y)) == pytest.approx(cook.readings()["paste_c"].max(), abs=0.6)


def test_times_are_those_of_the_zone_of_the_readings() -> None:
    figure = course_at("power-cut", NEARLY, zone="Asia/Kolkata")
    assert moment(trace(figure, "stirred").x[0]).strftime("%H:%M") == "16:25"
    assert "began at 14:49" in plots.alt_text(figure)


def test_checks_close_together_stand_in_two_rows() -> None:
    cook = monitor.open_cook(SAMPLES["smooth"])
    events = cook.events().iloc[:1]
    times = pd.DatetimeIndex(["2026-05-02T11:00Z", "2026-05-02T11:05Z", "2026-05-02T11:40Z"])
    checks = pd.DataFrame({"kind": "checked", "result": ["cloudy", "hazy", "clear"]}, index=times)
    feet = trace(plots.course(cook.readings(), pd.concat([events, checks])), "checked").y
    assert feet[0] != feet[1] and feet[0] == feet[2]


@pytest.mark.parametrize("at", [FALLING, NEARLY, None])
@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_a_course_is_light_enough_for_a_phone(name: str, at: pd.Timestamp | None) -> None:
    moment = (
        None if at is None else at + (monitor.open_cook(SAMPLES[name]).readings().index[0].normalize() - at.normalize())
    )
    figure = course_at(name, moment)
    assert len(figure.to_json()) <= 16_000
    for one in figure.data:
        assert len(one.y) <= 600


def test_a_course_of_two_days_is_no_heavier() -> None:
    times = pd.date_range("2026-05-02T09:00Z", periods=17_280, freq="10s")
    figure = plots.course(pd.DataFrame({"paste_c": np.full(17_280, 93.0)}, times))
    assert len(trace(figure, "paste").y) <= 600 and len(figure.to_json()) <= 16_000
    years = pd.DatetimeIndex(["1971-01-01", "2026-05-02", "2200-01-01"], tz="UTC")
    assert len(plots.course(pd.DataFrame({"paste_c": [20.0, 90.0, 21.0]}, years)).to_json()) <= 16_000


def test_nothing_at_all_is_an_empty_strip() -> None:
    cook = monitor.open_cook(SAMPLES["smooth"])
    empty = cook.readings().iloc[:0]
    assert not [one.name for one in plots.course(empty).data if one.name]
    at = "2026-05-02T08:59Z"
    early = plots.course(empty, cook.events(at), cook.outlook(at).estimate)
    assert plots.alt_text(early).startswith("Course of the cook: the cook has not begun")


def test_a_course_is_told_in_one_sentence_and_a_table() -> None:
    figure = course_at("power-cut", NEARLY)
    said = plots.alt_text(figure)
    for part in ("began at 09:19", "2 stirs", "2 checks, the last, at 12:53, read hazy", "a check is planned at"):
        assert part in said
    assert said.count(".") == 1
    rows = plots.table(figure)
    assert rows["time"].is_monotonic_increasing and len(rows) < 60
    assert rows.loc[rows["what"] == "checked", "value"].tolist() == ["hazy", "hazy"]
    assert rows.loc[rows["what"] == "paste", "value"].str.fullmatch(r"\d+ °C").all()
    assert (rows["what"] == "stirred").sum() == 2 and (rows["what"] == "clear time").sum() == 3


def test_a_figure_from_elsewhere_has_no_words() -> None:
    with pytest.raises(ValueError, match="no description"):
        plots.alt_text(go.Figure())


def test_a_caption_says_what_the_sentence_says() -> None:
    figure = course_at("power-cut")
    captioned = plots.captioned(figure)
    assert captioned.layout.annotations[-1].text.replace("<br>", " ") == plots.alt_text(figure)
    assert captioned.layout.margin.b > figure.layout.margin.b


def test_a_course_by_night_is_dark() -> None:
    figure = course_at("power-cut", NEARLY, dark=True)
    assert figure.layout.paper_bgcolor == DARK.paper and trace(figure, "paste").line.color == DARK.series[0]
