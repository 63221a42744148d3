"""The probe page and the guided calibrations, through the addresses that a phone uses.

The buffers' pH at 25 degC: ``tests/probes/ph_buffer_equations.csv`` and its sources; the electrode that is dipped is
the virtual rig's, by the law of Nernst, which the calibration does not know of.
"""

import json
import math
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from dashboard.bench.guides import guide_request, readings_of, wizard_of
from dashboard.live.app_state import APP_STATE
from monitor.calibration import WizardState
from monitor.probes import FieldCheck, PhCalibration, SensorConfig
from monitor.protocol import Pack, SenmlRecord
from monitor.runtime import Anchor, Clock
from monitor.runtime.clock import JumpClock
from monitor.session import CookLibrary
from monitor.simulator.sensors import ElectrodeTraits, electrode_v
from monitor.storage import CalibrationLog, Recorder, load
from monitor.storage.calibration_log import FILE
from tests.dashboard.dash_requests import answer_of, answers_of, given, page_of, written
from tests.dashboard.live.test_app_state import KEY, OURS, post

TRAITS = ElectrodeTraits(offset_v=0.008, slope=0.965)
BUFFERS = {"buffer_1": "7.00", "buffer_2": "10.01", "buffer_3": "", "temperature": "25", "probe": "the new one"}
GUIDE_OUTPUTS: list[tuple[Any, str]] = [
    ("guide-heard", "data"),
    ("signal-now", "children"),
    ("guide-part", "children"),
    ("guide-drawn", "data"),
    ("guide-settling", "children"),
    ("guide-settling", "hidden"),
    ({"guide": "over"}, "hidden"),
]
Bath = Callable[[float], float | str]


class Kitchen:
    """A running cook in virtual time: whatever a channel is dipped into is recorded once a second."""

    def __init__(self, folder: Path) -> None:
        self.clock = JumpClock()
        self.recorder = Recorder.create(folder, self.clock.anchor(), rig="cooker", source="test")
        self.name = self.recorder.path.stem
        self.baths: dict[tuple[str, str], Bath] = {
            ("paste", "Cel"): lambda _: 93.0,
            ("ph", "V"): lambda moment: 0.1 + 0.00001 * (moment % 2),
        }

        def clock_for(_tie: Anchor) -> Clock:
            return self.clock

        self.passes(60)
        self.phone: FlaskClient = make_app(CookLibrary(folder, clock_for), KEY).test_client()
        self.phone.get(f"/?key={KEY}")

    def passes(self, seconds: int) -> None:
        for _ in range(seconds):
            self.clock.moment += 1.0
            moment = self.clock.moment
            records = []
            for (channel, unit), bath in self.baths.items():
                said = bath(moment)
                value, fault = (None, said) if isinstance(said, str) else (float(said), None)
                records.append(SenmlRecord(channel, unit, value, fault, moment))
            self.recorder.add_pack(Pack(tuple(records), moment, None, None))
        self.recorder.commit()

    def dip(self, channel: str, unit: str, target: float | str | Bath) -> None:
        """Into another bath, in which the probe settles within a minute."""
        begun, before = self.clock.moment, self.baths.get((channel, unit))
        start = before(begun) if before else 0.0

        def settling(moment: float) -> float | str:
            goal = target(moment) if callable(target) else target
            if isinstance(goal, str) or isinstance(start, str) or callable(target):
                return goal
            return goal + (start - goal) * math.exp(-(moment - begun) / 8.0)

        self.baths[channel, unit] = settling

    def ask(self, path: str, what: str, form: dict[str, str], begun: list[Any], channel: str = "ph") -> Any:
        return post(
            self.phone, path, {"cook": self.name, "what": what, "channel": channel, "form": form, "begun": begun}
        )

    def said(self, what: str, form: dict[str, str], begun: list[Any], channel: str = "ph") -> dict[str, Any]:
        """What is said of the dips that have begun."""
        asked = {"cook": self.name, "what": what, "channel": channel, "form": form, "begun": begun}
        wizard = wizard_of(guide_request(self.phone.application.extensions[APP_STATE], asked))
        wrong = wizard.error_text if isinstance(wizard, WizardState) else ""
        return {
            "dips": [[dip.state, dip.words] for dip in readings_of(wizard)],
            "wrong": wrong,
            "verdict": wizard.verdict,
        }

    def tap(self, what: str, form: dict[str, str], name: str, runs: Any = None, channel: str = "ph") -> dict[str, Any]:
        """What a tap on a button of the guide changes in the browser."""
        asked = {"cook": self.name, "what": what, "channel": channel}
        place = {"guide": name}
        outputs = [("guide-runs", "data"), ("guide-kept", "data"), ("guide-refused", "children")]
        fields = [given({"field": field, "row": ""}, "value", value) for field, value in form.items()]
        return answers_of(
            self.phone,
            outputs,
            [[given(place, "n_clicks", 1)], [], []],
            [fields, given("guide-asked", "data", asked), given("guide-runs", "data", runs)],
            f"{written(place)}.n_clicks",
        )

    def look(self, what: str, runs: Any, kept: Any = None, drawn: str = "", channel: str = "ph") -> dict[str, Any]:
        """What the guide's page gets each second."""
        asked = {"cook": self.name, "what": what, "channel": channel}
        inputs = [
            given("guide-beat", "n_intervals", 1),
            given("guide-runs", "data", runs),
            given("guide-kept", "data", kept),
        ]
        states = [given("guide-asked", "data", asked), given("guide-drawn", "data", drawn)]
        return answers_of(self.phone, GUIDE_OUTPUTS, inputs, states)

    def dips(self, what: str, form: dict[str, str], targets: list[Any], channel: str = "ph", unit: str = "V") -> Any:
        """Dips one after another as a person does, and gives the last answer and the moments."""
        begun: list[Any] = []
        said: dict[str, Any] = {}
        for target in targets:
            self.dip(channel, unit, target)
            self.passes(3)
            begun = [*begun, self.clock.moment]
            self.passes(90)
            said = self.said(what, form, begun, channel)
        return said, begun

    def calibrate(self) -> str:
        volts = [electrode_v(TRAITS, ph, 25.0) for ph in (7.0, 10.012)]
        _, begun = self.dips("buffers", BUFFERS, volts)
        return str(self.ask("/probe-keep", "buffers", BUFFERS, begun).json["uid"])


@pytest.fixture
def kitchen(tmp_path: Path) -> Iterator[Kitchen]:
    made = Kitchen(tmp_path)
    yield made
    made.recorder.close()


def test_the_page_shows_how_each_reading_is_converted(kitchen: Kitchen, tmp_path: Path) -> None:
    CalibrationLog(tmp_path).add(SensorConfig("f", "cooker", "paste", 1.0, "K", 2, "MAX31855"))
    CalibrationLog(tmp_path).add(SensorConfig("g", "cooker", "wall", 1.0, "K", 1))
    # NIST Monograph 175: a type K gives 3.889 mV at 95 degC and 0.798 mV at 20, so 3.091 mV between the two.
    kitchen.baths["wall", "mV"] = lambda _: 3.091
    kitchen.baths["cold", "Cel"] = lambda _: 20.0
    kitchen.passes(5)
    page = kitchen.phone.get(f"/probes/{kitchen.name}").text
    # IEC 60584-1 class 2 of type K is 2.5 degC here; with a converter's 2 degC, added as squares, 3.2.
    assert "Within 3.2 °C: type K wire of IEC 60584-1 class 2 (2.5 °C at 95 °C) and the MAX31855 (2 °C)." in page
    assert "The MAX31855 has added its cold junction" in page
    assert "3.091 mV" in page and "95.0 °C" in page
    assert "Type K by ITS-90 from emf and cold junction" in page and "Within 1.5 °C" in page
    assert "Not calibrated: only its voltage is known." in page
    assert "Not known: nobody has told" in kitchen.phone.get(f"/probes/{kitchen.name}").text
    assert "Cold junction" in page and "None in this cook." in page
    assert "<h2>pH</h2>" in page and "<h2>paste</h2>" in page
    assert "<h2>pH now</h2>" in kitchen.phone.get(f"/probes/{kitchen.name}/buffers?channel=ph").text


def test_the_signal_is_small_and_has_a_stamp_of_the_rest(kitchen: Kitchen) -> None:
    def signal() -> Any:
        inputs = {("probes-beat", "n_intervals"): 1}
        said = answer_of(
            kitchen.phone, ("probes-heard", "data"), inputs, states={("probes-cook", "data"): kitchen.name}
        )
        return json.loads(said)["response"]["probes-heard"]["data"]

    first = signal()
    assert first["values"]["paste"] == ["93.00 °C", "93.0 °C"]
    assert page_of(kitchen.phone, f"/probes/{kitchen.name}").count(first["stamp"]) == 1
    kitchen.passes(2)
    second = signal()
    assert second["stamp"] == first["stamp"] and second["t"] == first["t"] + 2 and len(json.dumps(second)) < 150
    kitchen.baths["paste", "Cel"] = lambda _: "open circuit"
    kitchen.passes(8)
    third = signal()
    assert third["stamp"] != first["stamp"] and third["values"]["paste"] == ["open circuit", "open circuit"]
    page = kitchen.phone.get(f"/probes/{kitchen.name}").text
    assert "It says “open circuit”: look at its plug" in page and ", and still: “open circuit”" in page
    anew = answer_of(
        kitchen.phone,
        ("channels", "children"),
        {("probes-stamp", "data"): third["stamp"]},
        states={("probes-cook", "data"): kitchen.name},
        every={("known", "id"): [{"known": "paste"}], ("known", "n_clicks"): [1]},
    )
    assert anew.count('"open":true') == 1
    assert "It says \\u201copen circuit\\u201d: look at its plug" in anew


def test_a_cook_that_is_gone_is_told_and_not_an_error(kitchen: Kitchen) -> None:
    states = {("probes-cook", "data"): "no-such-cook"}
    said = answer_of(kitchen.phone, ("probes-heard", "data"), {("probes-beat", "n_intervals"): 1}, states=states)
    assert "There is no cook of this name here" in said


def test_a_link_that_only_looks_is_led_to_no_guide(kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    assert "/buffers?channel=ph" in kitchen.phone.get(f"/probes/{kitchen.name}").text
    monkeypatch.setattr("dashboard.pages.probes.is_view_only", lambda: True)
    page = kitchen.phone.get(f"/probes/{kitchen.name}").text
    assert "<h2>pH</h2>" in page and "?channel=" not in page
    monkeypatch.setattr("dashboard.pages.guide.is_view_only", lambda: True)
    for path in ("/buffers", "/sample", "/baths?channel=paste"):
        guide = kitchen.phone.get(f"/probes/{kitchen.name}{path}")
        assert (
            guide.status_code == 403 and "This link lets look, not change." in guide.text and "Begin" not in guide.text
        )


def test_a_guide_leads_from_dip_to_dip_and_sends_little(kitchen: Kitchen) -> None:
    key = f"{kitchen.name} buffers ph"
    asked = {"cook": kitchen.name, "what": "buffers", "channel": "ph"}
    runs = kitchen.tap("buffers", BUFFERS, "begin", {"another guide": {"begun": [1.0]}})["guide-runs"]["data"]
    assert runs == {"another guide": {"begun": [1.0]}, key: {"form": BUFFERS, "begun": []}}
    first = kitchen.look("buffers", runs)
    assert "1 of 2: pH 7.00" in json.dumps(first["guide-part"]) and "It is in" in json.dumps(first["guide-part"])
    assert first["signal-now"]["children"].endswith(" mV") and first['{"guide":"over"}'] == {"hidden": False}
    kitchen.dip("ph", "V", electrode_v(TRAITS, 7.0, 25.0))
    kitchen.passes(3)
    runs = kitchen.tap("buffers", BUFFERS, "dipped", runs)["guide-runs"]["data"]
    assert runs[key]["begun"] == [kitchen.clock.moment]
    settling = kitchen.look("buffers", runs, drawn=first["guide-drawn"]["data"])
    assert "It is in" not in json.dumps(settling["guide-part"])
    assert settling["guide-settling"] == {"children": "Settling: half a minute of readings is needed.", "hidden": False}
    kitchen.passes(31)
    again = kitchen.look("buffers", runs, drawn=settling["guide-drawn"]["data"])
    assert "it changes by" in again["guide-settling"]["children"]
    # What is asked each second brings the signal, and the rest where it has changed.
    assert "guide-part" not in again and len(json.dumps(again)) < 300
    del kitchen.baths["ph", "V"]
    kitchen.passes(25)
    failed = json.dumps(kitchen.look("buffers", runs)["guide-part"])
    assert "No reading of the channel ph came in 20 s" in failed and "Dip again" in failed
    kitchen.dip("ph", "V", electrode_v(TRAITS, 7.0, 25.0))
    kitchen.passes(3)
    runs = kitchen.tap("buffers", BUFFERS, "again", runs)["guide-runs"]["data"]
    assert runs[key]["begun"] == [kitchen.clock.moment]
    _, begun = kitchen.dips("buffers", BUFFERS, at(7.0, 10.012))
    seen = kitchen.look("buffers", {key: {"form": BUFFERS, "begun": begun}})["guide-part"]
    judged, sent = json.dumps(seen, sort_keys=True), {**asked, "form": BUFFERS, "begun": begun}
    assert "The probe is good" in judged and json.dumps(sent, sort_keys=True) in judged
    over = kitchen.tap("buffers", BUFFERS, "over", runs)["guide-runs"]["data"]
    assert over[key] == {"form": BUFFERS, "begun": None}
    assert kitchen.look("buffers", over)['{"guide":"over"}'] == {"hidden": True}


def test_a_guide_goes_on_from_what_the_browser_keeps_and_tells_what_is_no_use(kitchen: Kitchen) -> None:
    key = f"{kitchen.name} buffers ph"
    others: list[Any] = [{key: "?"}, {key: {"form": [], "begun": None}}, {}, None]
    for kept in others:
        assert "First buffer" in json.dumps(kitchen.look("buffers", kept)["guide-part"])
    stale = kitchen.look("buffers", {key: {"form": BUFFERS, "begun": [5.0]}})
    assert stale["guide-heard"]["data"] == {"words": "A dip began within the last day."}
    # It can be started over.
    assert stale['{"guide":"over"}'] == {"hidden": False}
    post(kitchen.phone, "/log", {"cook": kitchen.name, "kind": "finished"})
    kitchen.passes(2)
    assert "This cook is finished" in kitchen.look("buffers", None)["guide-heard"]["data"]["words"]


def test_ice_alone_asks_for_no_pressure(kitchen: Kitchen) -> None:
    key = f"{kitchen.name} baths paste"
    both = json.dumps(kitchen.look("baths", None, channel="paste")["guide-part"])
    ice = {key: {"form": {"baths": "ice"}, "begun": None}}
    alone = json.dumps(kitchen.look("baths", ice, channel="paste")["guide-part"])
    assert "Barometer" in both and "Barometer" not in alone


def test_a_silent_channel_is_reported_unless_the_cook_is_finished(kitchen: Kitchen) -> None:
    del kitchen.baths["paste", "Cel"]
    kitchen.passes(300)
    page = kitchen.phone.get(f"/probes/{kitchen.name}").text
    assert page.count("Silent for 5 min") == 1 and "The cook ended on" not in page
    post(kitchen.phone, "/log", {"cook": kitchen.name, "kind": "finished"})
    kitchen.clock.moment += 7200.0
    page = kitchen.phone.get(f"/probes/{kitchen.name}").text
    assert "Silent for" not in page and "The cook ended on" in page
    assert "This cook is finished" in kitchen.phone.get(f"/probes/{kitchen.name}/buffers").text
    assert "This cook is finished" in kitchen.ask("/probe-keep", "buffers", BUFFERS, []).text


def test_two_buffers_calibrate_the_probe_and_no_reading_is_rewritten(kitchen: Kitchen, tmp_path: Path) -> None:
    volts = [electrode_v(TRAITS, ph, 25.0) for ph in (7.0, 10.012)]
    kitchen.dip("ph", "V", volts[0])
    kitchen.passes(3)
    began = [kitchen.clock.moment]
    first = kitchen.said("buffers", BUFFERS, began)
    assert first["dips"] == [["settling", "Settling: half a minute of readings is needed."]] and first["verdict"] == ""
    kitchen.passes(31)
    assert "it changes by" in kitchen.said("buffers", BUFFERS, began)["dips"][0][1]
    early = kitchen.ask("/probe-keep", "buffers", BUFFERS, began)
    assert early.status_code == 400 and early.text == "Not every dip is steady yet."
    said, begun = kitchen.dips("buffers", BUFFERS, volts)
    assert [state for state, _ in said["dips"]] == ["steady", "steady"]
    assert said["dips"][0][1].endswith("mV in pH 7.00 at 25 °C.")
    assert said["verdict"].startswith("The probe is good: slope 96.") and "+8." in said["verdict"]
    assert not (tmp_path / FILE).exists()
    before = load(kitchen.recorder.path).series["ph"].value.copy()
    kept = kitchen.ask("/probe-keep", "buffers", BUFFERS, begun).json
    fact = CalibrationLog(tmp_path).facts().latest(PhCalibration, "cooker", "ph")
    assert fact is not None and fact.uid == kept["uid"] and fact.probe == "the new one"
    assert fact.known == kitchen.clock.moment
    kitchen.passes(2)
    after = load(kitchen.recorder.path).series["ph"]
    assert after.unit == "V" and (after.value[: len(before)] == before).all()
    page = kitchen.phone.get(f"/probes/{kitchen.name}").text
    assert "pH 10.01" in page and "Calibrated in 7.00, 10.01" in page and "Calibrated today." in page
    kitchen.clock.moment += 8 * 86_400
    assert "Calibrated 8 days ago: calibrate again." in kitchen.phone.get(f"/probes/{kitchen.name}").text
    assert post(kitchen.phone, "/probe-back", {"cook": kitchen.name, "uid": kept["uid"]}).status_code == 200
    kitchen.passes(2)
    assert CalibrationLog(tmp_path).facts().latest(PhCalibration, "cooker", "ph", kitchen.clock.moment) is None
    assert "Not calibrated" in kitchen.phone.get(f"/probes/{kitchen.name}").text


def test_a_calibration_sent_twice_is_saved_once(kitchen: Kitchen) -> None:
    _, begun = kitchen.dips("buffers", BUFFERS, [electrode_v(TRAITS, ph, 25.0) for ph in (7.0, 10.012)])
    asked = {
        "cook": kitchen.name,
        "what": "buffers",
        "channel": "ph",
        "form": BUFFERS,
        "begun": begun,
        "id": "dip-once",
    }
    kept = [post(kitchen.phone, "/probe-keep", asked).json for _ in range(2)]
    assert kept[0] == kept[1] and kept[0]["uid"] == "dip-once" and not kept[0]["event"]
    sample = {"percent": "2", "temperature": "24,5"}
    _, begun = kitchen.dips("sample", sample, [electrode_v(TRAITS, 10.2, 24.5)])
    asked |= {"what": "sample", "form": sample, "begun": begun, "id": "sample-once"}
    read = [post(kitchen.phone, "/probe-keep", asked).json for _ in range(2)]
    assert [one["uid"] for one in read] == ["sample-once"] * 2
    assert len(load(kitchen.recorder.path).events_of("ph read")) == 1


def test_the_wizard_gives_the_same_answer_each_time(kitchen: Kitchen) -> None:
    volts = [electrode_v(TRAITS, ph, 25.0) for ph in (7.0, 10.012)]
    said, begun = kitchen.dips("buffers", BUFFERS, volts)
    kitchen.dip("ph", "V", -0.3)
    kitchen.passes(200)
    later = kitchen.said("buffers", BUFFERS, begun)
    assert later["dips"] == said["dips"] and later["verdict"] == said["verdict"]


def test_three_buffers_calibrate_the_probe(kitchen: Kitchen) -> None:
    form = BUFFERS | {"buffer_1": "4.01", "buffer_2": "7.00", "buffer_3": "10.01"}
    said, _ = kitchen.dips("buffers", form, [electrode_v(TRAITS, ph, 25.0) for ph in (4.005, 7.0, 10.012)])
    assert len(said["dips"]) == 3 and said["verdict"].startswith("The probe is good")


def at(*phs: float) -> list[float]:
    return [electrode_v(TRAITS, ph, 25.0) for ph in phs]


@pytest.mark.parametrize(
    ("targets", "says"),
    [
        (at(10.012, 7.0), "look swapped"),
        (at(7.0, 7.0), "the same buffer was measured twice"),
        ([0.0, -0.4 * 0.0592 * 3.012], "The slope is 40%"),
        ([0.3, 0.12], "At pH 7 the probe gives +300 mV"),
        ([6.0, -168.0], "look like millivolts"),
    ],
)
def test_implausible_dips_are_refused_in_one_sentence_and_not_saved(
    kitchen: Kitchen, tmp_path: Path, targets: list[float], says: str
) -> None:
    said, begun = kitchen.dips(
        "buffers", BUFFERS, [lambda _, v=v: v + 1e-6 * (kitchen.clock.moment % 2) for v in targets]
    )
    assert says in said["wrong"] and said["wrong"].endswith(".") and said["verdict"] == ""
    refused = kitchen.ask("/probe-keep", "buffers", BUFFERS, begun)
    assert refused.status_code == 400 and says in refused.text
    assert not (tmp_path / FILE).exists()


@pytest.mark.parametrize(
    ("bath", "says"),
    [
        (lambda t: 0.1 + 0.0001 * (t % 1e5), "still drifts by"),
        (lambda t: 0.1 * (t % 2), "still jumps about"),
        (lambda t: "open circuit", "The probe says “open circuit”"),
        (lambda t: 0.0, "It reads exactly 0 all the time"),
    ],
)
def test_a_probe_that_does_not_settle_is_reported_with_the_reason(kitchen: Kitchen, bath: Bath, says: str) -> None:
    kitchen.dip("ph", "V", bath)
    begun = [kitchen.clock.moment]
    kitchen.passes(245)
    said = kitchen.said("buffers", BUFFERS, begun)
    assert said["dips"][0][0] == "failed" and says in said["dips"][0][1]


def test_a_silent_channel_is_reported_during_a_dip(kitchen: Kitchen) -> None:
    begun = [kitchen.clock.moment]
    del kitchen.baths["ph", "V"]
    kitchen.passes(25)
    said = kitchen.said("buffers", BUFFERS, begun)
    assert said["dips"][0][0] == "failed" and "No reading of the channel ph came in 20 s" in said["dips"][0][1]


@pytest.mark.parametrize(
    ("what", "channel", "form", "begun", "says"),
    [
        ("buffers", "ph", BUFFERS | {"buffer_2": "7.00"}, [], "The 7.00 buffer was measured twice"),
        ("buffers", "ph", BUFFERS | {"temperature": "80"}, [], "too hot to calibrate in"),
        ("buffers", "ph", BUFFERS | {"temperature": "warm"}, [], "must be a number"),
        ("buffers", "ph", BUFFERS | {"temperature": ""}, [], "temperature is empty"),
        ("buffers", "ph", BUFFERS | {"buffer_1": "5.5"}, [], "not in the table"),
        ("buffers", "ph", BUFFERS | {"probe": "x" * 99}, [], "99 characters"),
        ("buffers", "ph", BUFFERS, ["soon"], "within the last day"),
        ("buffers", "ph", BUFFERS, [5.0], "within the last day"),
        ("buffers", "ph", BUFFERS, [True], "within the last day"),
        ("buffers", "ph", BUFFERS, [1e300], "within the last day"),
        ("buffers", "ph", BUFFERS, [1.0] * 9, "at most 3"),
        ("buffers", "no-such", BUFFERS, [], "has heard nothing from a channel no-such"),
        ("baths", "paste", {"baths": "both"}, [], "Water boils at another temperature each day"),
        ("baths", "paste", {"baths": "both", "pressure": "30"}, [], "from 500 to 1100"),
        ("baths", "paste", {"baths": "sea"}, [], "Choose ice water"),
        ("sample", "ph", {"percent": "1", "temperature": "93"}, [], "At 93 °C a glass probe tells little"),
        ("sample", "ph", {"percent": "100", "temperature": "25"}, [], "In 100 % of paste a glass probe tells little"),
        ("sample", "ph", {"percent": "1", "temperature": "25"}, [], "not calibrated yet"),
        ("soup", "ph", {}, [], "There is no guide called"),
    ],
)
def test_an_implausible_plan_is_refused_before_the_first_dip(
    kitchen: Kitchen, what: str, channel: str, form: dict[str, str], begun: list[Any], says: str
) -> None:
    answer = kitchen.ask("/probe-keep", what, form, begun, channel)
    assert answer.status_code == 400, answer.text
    assert says in answer.text and answer.text.endswith(".") and "\n" not in answer.text
    if not begun:
        tapped = kitchen.tap(what, form, "begin", channel=channel)
        assert tapped == {"guide-refused": {"children": answer.text}}


def test_a_sample_that_is_too_hot_by_its_thermometer_is_refused(kitchen: Kitchen) -> None:
    kitchen.calibrate()
    kitchen.baths["sample", "Cel"] = lambda _: 91.0
    kitchen.passes(3)
    answer = kitchen.ask("/probe-keep", "sample", {"percent": "1", "temperature": "25"}, [])
    assert answer.status_code == 400 and "At 91 °C a glass probe tells little" in answer.text
    assert "dilute a sample to 1 %, let it cool" in answer.text


def test_a_sample_is_logged_with_its_concentration_and_temperature(kitchen: Kitchen) -> None:
    kitchen.calibrate()
    form = {"percent": "2", "temperature": "24,5"}
    said, begun = kitchen.dips("sample", form, [electrode_v(TRAITS, 10.2, 24.5)])
    assert said["verdict"].startswith("pH 10.") and said["verdict"].endswith("in 2 % at 24.5 °C.")
    kept = kitchen.ask("/probe-keep", "sample", form, begun).json
    assert kept["event"] is True
    (event,) = load(kitchen.recorder.path).events_of("ph read")
    assert event.uid == kept["uid"]
    assert dict(event.fields) == {
        "ph": pytest.approx(10.2, abs=0.02),
        "sample_percent": 2.0,
        "temperature_c": 24.5,
    }
    kitchen.clock.moment += 1
    assert post(kitchen.phone, "/back", {"cook": kitchen.name, "uid": kept["uid"]}).status_code == 200


def test_ice_and_boiling_water_correct_a_thermocouple(kitchen: Kitchen, tmp_path: Path) -> None:
    # Water boils at 99.97 degC at 1013.25 hPa (IAPWS-IF97).
    form = {"baths": "both", "sea_level": "1013.25", "altitude": "0"}
    said, begun = kitchen.dips("baths", form, [1.0, 100.97], "paste", "Cel")
    # A tip that is called steady may still owe a few hundredths.
    assert said["dips"][0][1].startswith("1.0") and said["dips"][0][1].endswith(" °C in ice water of 0.00 °C.")
    assert said["dips"][1][1].startswith("100.9") and said["dips"][1][1].endswith(" °C in boiling water of 99.97 °C.")
    assert said["verdict"].startswith("Checked in ice water and boiling water: readings are changed by -1.0")
    assert kitchen.ask("/probe-keep", "baths", form, begun, "paste").status_code == 200
    check = CalibrationLog(tmp_path).facts().field_check("cooker", "paste")
    kitchen.passes(1)
    assert isinstance(check, FieldCheck) and check.points[0].pressure_hpa is None
    page = kitchen.phone.get(f"/probes/{kitchen.name}").text
    assert "Corrected by ice water and boiling water" in page and "Checked today." in page
    assert "100.0 °C" in page and "100.97 °C" in page


def test_swapped_baths_are_reported_in_one_sentence(kitchen: Kitchen) -> None:
    form = {"baths": "both", "pressure": "1013"}
    said, _ = kitchen.dips("baths", form, [99.9, 0.2], "paste", "Cel")
    assert "reads hotter than boiling water" in said["wrong"]


def test_the_pages_open_and_need_the_key(kitchen: Kitchen) -> None:
    for path in ("", "/buffers", "/sample", "/baths?channel=paste"):
        assert kitchen.phone.get(f"/probes/{kitchen.name}{path}").status_code == 200
    assert kitchen.phone.get(f"/probes/{kitchen.name}/soup").status_code == 404
    assert kitchen.phone.get("/probes/no-such-cook").status_code == 404
    assert "heard nothing" in kitchen.phone.get(f"/probes/{kitchen.name}/buffers?channel=%3Cb%3E").text
    assert "<b>:" not in kitchen.phone.get(f"/probes/{kitchen.name}/buffers?channel=%3Cb%3E").text
    unpaired = kitchen.phone.application.test_client()
    assert unpaired.get(f"/probes/{kitchen.name}").status_code == 401
    for path in ("/probe-keep", "/probe-back"):
        assert post(unpaired, path, {"cook": kitchen.name}).status_code == 401
        assert kitchen.phone.post(path, json={}).status_code == 403
        assert (
            kitchen.phone.post(path, data=b"[" * 5000, content_type="application/json", headers=OURS).status_code == 400
        )


def test_only_a_calibration_of_this_cooker_can_be_retracted(kitchen: Kitchen) -> None:
    answer = post(kitchen.phone, "/probe-back", {"cook": kitchen.name, "uid": "nothing"})
    assert answer.status_code == 400 and answer.text == "There is no such calibration to take back."
