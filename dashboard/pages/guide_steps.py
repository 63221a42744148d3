"""What a guided calibration shows: what to fill in, then one bath at a time, what it says, and what became of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from dashboard.bench.guides import NO_BUFFER
from dashboard.components import parts
from dashboard.components.fields import Fields, pair
from dashboard.components.sending import sender
from dashboard.components.tags import Component, html
from monitor.calibration import buffer_names

RINSE = "Rinse the probe with distilled water and dab it dry."
ICE = ("Ice water", "Fill a cup with crushed ice, top it up with water, stir, and hold the tip in its middle.")
BOILING = ("Boiling water", "Hold the tip in water at a rolling boil, off the pot's bottom, hands out of the steam.")
BATH_STEPS = {"both": (ICE, BOILING), "ice": (ICE,), "boiling": (BOILING,)}
SAMPLE_STEP = (
    "The sample",
    "Rinse the probe with distilled water, dab it dry, dip it into the cooled sample and stir.",
)


@dataclass(frozen=True, slots=True)
class Guide:
    """heading: of the page. first: what stands in the fields. keeps: the button's words. after: once it is kept."""

    heading: str
    first: Mapping[str, str]
    care: str
    keeps: str = "Keep this calibration"
    after: str = "The readings stay as they were sent; what is shown of them changes from now on."


GUIDES: Mapping[str, Guide] = MappingProxyType(
    {
        "buffers": Guide(
            "Calibrate in buffers",
            {"buffer_1": "7.00", "buffer_2": "10.01", "buffer_3": NO_BUFFER, "temperature": "25"},
            "Never leave a glass probe in the hot paste: at 95 °C in caustic it lives for weeks at best.",
        ),
        "baths": Guide(
            "Check in ice and boiling water",
            {"baths": "both"},
            "Boiling water scalds: keep hands out of the steam.",
            "Keep this check",
        ),
        "sample": Guide(
            "Read a sample's pH",
            {"percent": "1", "temperature": "25"},
            "Gloves and goggles on: the paste is hot and caustic. Never put a glass probe into it: the pH of a hot "
            "paste tells little, and the glass is gone within weeks.",
            "Log it with the cook",
            "Rinse the probe and put it back into its storage solution.",
        ),
    }
)


def plan_part(what: str, form: Mapping[str, object]) -> list[Component]:
    """What is filled in before the first dip. form: what was typed so far."""
    fields = Fields({**GUIDES[what].first, **form})
    return [*_PLANS[what](fields), parts.button("Begin", id={"guide": "begin"}, className="keep")]


def _buffers(fields: Fields) -> list[Component]:
    names = list(buffer_names())
    return [
        html.P(
            "You need the buffers, distilled water to rinse, and a soft tissue. Let probe and buffers come to the same "
            "temperature, about 25 °C."
        ),
        fields.pick("buffer_1", "First buffer, pH", names),
        fields.pick("buffer_2", "Second buffer, pH", [NO_BUFFER, *names]),
        fields.pick("buffer_3", "Third, if you like, pH", [NO_BUFFER, *names]),
        fields.number("temperature", "Their temperature", "°C"),
        fields.line("probe", "Which probe, in your own words"),
    ]


def _baths(fields: Fields) -> list[Component]:
    options = [("both", "Ice, then boiling"), ("ice", "Ice alone"), ("boiling", "Boiling alone")]
    pressures = [
        fields.number("pressure", "Barometer in the kitchen", "hPa"),
        html.P("Or, from the weather report:"),
        pair(fields.number("sea_level", "Its pressure", "hPa"), fields.number("altitude", "Altitude", "m")),
    ]
    return [
        html.P("Do it before the cook: a tip taken out of the paste looks like an open lid."),
        fields.choice("baths", "Baths", options),
        # Ice water is as cold whatever the weather.
        *([] if fields.text("baths") == "ice" else pressures),
    ]


def _sample(fields: Fields) -> list[Component]:
    return [
        html.P("Weigh 1 g of paste into 99 g of distilled water, dissolve it, and let it cool to 25 °C."),
        pair(fields.number("percent", "Paste in it", "%"), fields.number("temperature", "Its temperature", "°C")),
    ]


_PLANS = {"buffers": _buffers, "baths": _baths, "sample": _sample}


def work_part(
    asked: Mapping[str, Any], run: Mapping[str, Any], dips: Sequence[tuple[str, str]], trouble: str, verdict: str
) -> list[Component]:
    """The dips so far and the next one; or what is wrong; or what they say.

    dips: state and words of each. trouble: one sentence where they are implausible together.
    """
    plan = _steps(str(asked["what"]), run["form"])
    steady = [html.Li(f"Steady: {words}") for state, words in dips if state == "steady"]
    part: list[Component] = [html.Ol(steady)] if steady else []
    last, words = dips[-1] if dips else ("", "")
    trouble = trouble or (words if last == "failed" else "")
    if trouble:
        again = parts.button("Dip again", id={"guide": "again"}, className="keep")
        return [*part, html.P(trouble, className="refusal", role="alert"), again]
    if verdict:
        body = {**asked, "form": run["form"], "begun": run["begun"]}
        keep = sender("guide-keep", GUIDES[asked["what"]].keeps, "/probe-keep", body, className="keep")
        return [*part, html.H2("What it says"), html.P(verdict, className="plain"), keep]
    place = len(dips) - (1 if last == "settling" else 0)
    title, advice = plan[place]
    part.append(html.H2(f"{place + 1} of {len(plan)}: {title}" if len(plan) > 1 else title))
    if last == "settling":
        return part
    dipped = parts.button("It is in", id={"guide": "dipped"}, className="keep")
    return [*part, html.P(advice, className="plain"), dipped]


def _steps(what: str, form: Mapping[str, object]) -> Sequence[tuple[str, str]]:
    """Title and advice of each dip."""
    if what == "sample":
        return [SAMPLE_STEP]
    if what == "baths":
        return BATH_STEPS[str(form["baths"])]
    names = [form.get(f"buffer_{number}") for number in (1, 2, 3)]
    return [
        (f"pH {name}", f"{RINSE} Dip it into the pH {name} buffer, stir, and hold it still.")
        for name in names
        if name not in (None, "", NO_BUFFER)
    ]


def kept_part(asked: Mapping[str, Any], kept: Mapping[str, Any]) -> list[Component]:
    """What became of it. kept: the answer to the tap that kept it, without an id once it was taken back."""
    said = html.P(str(kept["kept"]), className="plain", role="status")
    if not kept.get("uid"):
        return [said]
    path = "/back" if kept.get("event") else "/probe-back"
    undo = sender("guide-undo", "Undo", path, {"cook": asked["cook"], "uid": kept["uid"]})
    return [said, html.P(GUIDES[asked["what"]].after), undo]
