"""What a kitchen has learned, as pictures: each says what was learned, by shape and in words."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import monitor
from monitor import plots
from monitor.estimation import cook_evidence, fit_kitchen
from monitor.session import kitchen_model
from monitor.session.finished import read_history
from tests.plots.test_figures import ROOT, SAMPLES


def needs() -> pd.DataFrame:
    evidence = [cook_evidence(read_history(SAMPLES[name], "paste")) for name in ("smooth", "power-cut", "loose-probe")]
    known = [one for one in evidence if one is not None]
    return plots.needs_frame([fit_kitchen(known[:number]) for number in range(4)])


def test_the_need_narrows_from_cook_to_cook() -> None:
    frame = needs()
    assert frame.index.tolist() == [0, 1, 2, 3] and frame.attrs["units"]["middle_min"] == "min"
    width = frame["high_min"] / frame["low_min"]
    assert width.is_monotonic_decreasing
    figure = plots.need_by_cook(frame)
    low, high, middle = figure.data
    assert middle.y == tuple(frame["middle_min"].round(1)) and low.y[0] < middle.y[0] < high.y[0]
    assert figure.layout.yaxis.type == "log" and high.fill == "tonexty"
    assert plots.table(figure)["cooks"].tolist() == ["0", "1", "2", "3"]
    assert "160 min (likely 100 to 255 min) after 0 cooks" in plots.alt_text(figure)


def test_a_kitchen_of_no_frame_has_an_empty_figure() -> None:
    assert plots.alt_text(plots.need_by_cook(needs().iloc[:0])) == "Nothing is known of the need."


TRUE = ("true", "within the bracket", "open")


def stated(*rows: tuple[str, float | None, float, float | None, float | None]) -> pd.DataFrame:
    """Rows of name and minutes from the clear check: low, middle, high, not yet."""
    clear = pd.Timestamp("2026-05-02T12:30Z")
    frame = pd.DataFrame(
        [
            [clear + pd.Timedelta(minutes=value) if value is not None else pd.NaT for value in values] + [clear]
            for _, *values in rows
        ],
        columns=["low", "middle", "high", "not_yet", "clear"],
        index=[name for name, *_ in rows],
    )
    frame = frame.astype("datetime64[us, UTC]")
    frame["outcome"] = ["came true" if name in TRUE else "too early" for name in frame.index]
    return frame


def test_stated_times_are_held_against_what_came() -> None:
    frame = stated(
        ("true", -40.0, 5.0, 50.0, -15.0),
        ("too early", -90.0, -60.0, -30.0, -15.0),
        ("too late", 10.0, 40.0, 90.0, -15.0),
        ("within the bracket", -40.0, -20.0, -10.0, -15.0),
    )
    figure = plots.stated_against_came(frame)
    bracket, good, bad = figure.data
    assert list(bracket.base) == [-15.0] * 4 and bracket.marker.pattern.shape == "/"
    assert list(good.y) == ["true", "within the bracket"] and list(bad.y) == ["too early", "too late"]
    assert good.marker.symbol != bad.marker.symbol
    assert good.error_x.array[0] == 45.0 and good.error_x.arrayminus[0] == 45.0
    assert plots.table(figure)["outcome"].tolist() == ["came true", *["too early"] * 2, "came true"]
    assert "2 of 4 came true" in plots.alt_text(figure)
    assert "−90 to −30 min" in plots.table(figure)["stated, 8 in 10"].tolist()


def test_open_ends_reach_to_the_edge_and_what_said_nothing_is_left_out() -> None:
    frame = stated(("open", -30.0, 60.0, None, None), ("far off", 300.0, 400.0, 500.0, -15.0))
    frame.loc["silent"] = [pd.NaT, pd.NaT, pd.NaT, pd.NaT, frame["clear"].iloc[0], "nothing was said"]
    figure = plots.stated_against_came(frame)
    assert figure.data[0].y == ("open", "far off")
    assert figure.data[1].x[0] + figure.data[1].error_x.array[0] == 180.0
    assert figure.data[2].x == (180.0,)
    assert "open" in plots.table(figure)["stated, 8 in 10"].iloc[0]
    assert plots.alt_text(plots.stated_against_came(frame.iloc[:0])).endswith("0 of 0 came true.")


def test_the_verdict_is_that_of_the_coverage() -> None:
    frame = monitor.stated_times(ROOT / "recordings")
    half = frame[frame["share"] == 0.5]
    figure = plots.stated_against_came(half)
    told = dict(zip(half.index, half["outcome"], strict=True))
    drawn = plots.table(figure).set_index("cook")["outcome"]
    assert len(drawn) == 3
    assert drawn.to_dict() == told


def test_the_warm_up_is_that_of_the_latest_cook_against_the_plateau() -> None:
    courses = {name: monitor.open_cook(SAMPLES[name]).aligned() for name in ("loose-probe", "power-cut")}
    report = plots.kitchen_report(kitchen_model(Path("nowhere")))
    figure = plots.warm_up(courses, report.plateau_c, report.plateau_sd_c)
    assert [line.name for line in figure.data] == ["power-cut", "loose-probe"]
    assert figure.data[-1].line.width > figure.data[0].line.width
    assert all(max(line.x) <= 120.0 and len(line.x) <= 121 for line in figure.data)
    rows = plots.table(figure)
    assert rows["cook"].tolist() == list(courses)
    minutes = float(str(rows.iloc[0, 1]).split()[0])
    level = dict(zip(np.round(figure.data[-1].x), figure.data[-1].y, strict=True))
    assert level[minutes] == pytest.approx(report.plateau_c - 2.0, abs=0.6)


def test_the_true_excess_is_told_before_and_after_a_cook() -> None:
    figure = plots.true_excess({"as weighed": (-0.01, 0.022, 0.054), "after the cook": (0.005, 0.024, 0.046)})
    before_width, after_width = (
        figure.data[0].error_x.array[place] + figure.data[0].error_x.arrayminus[place] for place in (0, 1)
    )
    assert after_width < before_width and "just enough" in [note.text for note in figure.layout.annotations]
    assert plots.table(figure)["8 in 10"].tolist() == ["−1.0 to 5.4 %", "0.5 to 4.6 %"]
    assert plots.alt_text(plots.true_excess({})) == "True excess of the alkali: nothing is known."
