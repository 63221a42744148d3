"""The kinds of events of a cook, with the fields that each has and what these may hold."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeAlias

from monitor.model.step_timers import STEP_TIMERS


@dataclass(frozen=True, slots=True)
class Number:
    """A numeric event field and the closed range it must lie in."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Text:
    """A free text field of at most ``longest`` characters."""

    longest: int = 2000


@dataclass(frozen=True, slots=True)
class OneOf:
    """A field that holds one of a few words."""

    words: tuple[str, ...]


FieldRule: TypeAlias = Number | Text | OneOf

GRAMS = Number(0.0, 100_000.0)

PERCENT = Number(0.01, 100.0)
JAR = Number(10.0, 5_000.0)
JAR_LOOKS = ("clear", "cloudy")

# What a sample in twice its weight of boiling water shows, from done to not nearly done.
CHECK_RESULTS = ("clear", "nearly clear", "hazy", "cloudy")
# How the paste looks on its way; recordings of before also have "opaque", which is thin or stiff.
PASTE_STAGES = ("thin", "stiff", "patchy", "translucent")

# How the bottled soap looks, feels and flows after its week of rest.
OUTCOME_LOOKS = ("clear", "hazy", "cloudy")
LATHERS = ("little", "some", "much")
THICKNESSES = ("like water", "like oil", "like honey", "a jelly")

# kind -> (required fields, optional fields)
PERSON_EVENTS: Mapping[str, tuple[Mapping[str, FieldRule], Mapping[str, FieldRule]]] = MappingProxyType(
    {
        "oils melted": ({}, {}),
        "lye cooled": ({}, {}),
        "lye in": ({}, {}),
        "thick trace": ({}, {}),
        "lid on": ({}, {}),
        "lid off": ({}, {}),
        "heat": ({"setting": Text(60)}, {}),
        "stirred": ({}, {}),
        "checked": (
            {"result": OneOf(CHECK_RESULTS)},
            {"sample_g": GRAMS, "water_g": GRAMS},
        ),
        # How the paste looks: a weak observation between two checks.
        "looked": ({"paste": OneOf((*PASTE_STAGES, "opaque"))}, {}),
        "ph read": (
            {"ph": Number(-2.0, 16.0)},
            {"sample_percent": Number(0.0, 100.0), "temperature_c": Number(-10.0, 110.0)},
        ),
        "water added": ({"grams": GRAMS}, {}),
        "neutraliser added": ({"reagent": Text(60), "grams": GRAMS}, {}),
        "added": ({"what": Text(60), "grams": GRAMS}, {}),
        # What was entered on the bench pages, so that every phone and the printed record have it.
        "weighed": ({"what": Text(60), "grams": GRAMS}, {}),
        "paste weighed": ({"grams": GRAMS}, {}),
        "boiled off": ({"grams": GRAMS}, {}),
        # acid_mol_l: mol of H+ per litre, of which sulfuric acid gives two.
        "titrated": (
            {"acid_ml": Number(0.0, 100.0), "acid_mol_l": Number(0.001, 2.0), "sample_g": Number(0.1, 200.0)},
            {},
        ),
        # A jar of product that stock solution is dosed into: portions so far, and what was seen after the last of them.
        # reagent: a neutraliser; thickener: salt or borax. look: of the jar.
        "jar neutralised": (
            {"jar_g": JAR, "reagent": Text(60), "stock_g": Number(0.0, 500.0), "ph": Number(-2.0, 16.0)},
            {"stock_percent": PERCENT, "look": OneOf(JAR_LOOKS)},
        ),
        "jar thickened": (
            {"jar_g": JAR, "thickener": Text(60), "stock_g": Number(0.0, 500.0), "run_out_s": Number(0.1, 36_000.0)},
            {"stock_percent": PERCENT, "look": OneOf(JAR_LOOKS)},
        ),
        # For this cook: what a check costs (minutes of labour), what a minute past clear costs, and the stir interval.
        "costs set": (
            {},
            {
                "check_min": Number(0.0, 240.0),
                "overcook_per_min": Number(0.0, 10.0),
                "stir_every_min": Number(5.0, 240.0),
            },
        ),
        # How the soap looked after its rest.
        "settled": ({"look": OneOf(("clear", "filtered", "cloudy"))}, {}),
        "bottled": ({"bottles": Number(0.0, 10_000.0), "bottle_ml": Number(5.0, 20_000.0)}, {"grams": GRAMS}),
        "labelled": ({}, {}),
        # Rings so many minutes later, until the step is logged or a person answers.
        "timer set": ({"step": OneOf(tuple(STEP_TIMERS)), "minutes": Number(1.0, 43_200.0)}, {}),
        # cloudy_below_c: the soap's own temperature below which it turns cloudy.
        "outcome": (
            {"look": OneOf(OUTCOME_LOOKS)},
            {
                "lather": OneOf(LATHERS),
                "thickness": OneOf(THICKNESSES),
                "cloudy_below_c": Number(-20.0, 60.0),
                "complaints": Text(),
                "note": Text(),
            },
        ),
        # What a qualified person's assessment says of a batch's keeping. months: from filling on.
        "keeping": (
            {},
            {"preservative": Text(120), "months": Number(0.0, 120.0), "assessed_by": Text(120)},
        ),
        "heat off": ({}, {}),
        "finished": ({}, {}),
        # photo: the name of a photograph's file, which stays where it is.
        "note": ({"text": Text()}, {"photo": Text(200)}),
    }
)

# What goes on with a batch when its cook is over; logged then, it has its own time, and the cook ends where it ended.
AFTER_COOK = frozenset(
    (
        "weighed",
        "paste weighed",
        "boiled off",
        "water added",
        "ph read",
        "titrated",
        "jar neutralised",
        "neutraliser added",
        "jar thickened",
        "added",
        "settled",
        "bottled",
        "labelled",
        "outcome",
        "keeping",
        "timer set",
        "acknowledged",
        "shelved",
    )
)

# What a person answers to what the monitor says: to a condition, or to something noticed, by its name.
ANSWERS: Mapping[str, tuple[Mapping[str, FieldRule], Mapping[str, FieldRule]]] = MappingProxyType(
    {
        "acknowledged": ({"condition": Text(60)}, {}),
        "shelved": ({"condition": Text(60), "minutes": Number(1.0, 1440.0)}, {}),
        # at: when it seemed to have happened, Unix seconds.
        "dropped": ({"noticed": Text(60), "at": Number(0.0, 1e11)}, {}),
    }
)

# Events of the logger itself; a person cannot log these.
LOGGER_EVENTS: Mapping[str, tuple[Mapping[str, FieldRule], Mapping[str, FieldRule]]] = MappingProxyType(
    {
        "resumed": ({}, {}),
        "bad line": ({"reason": Text(200), "bytes": Text(400)}, {"count": Number(1, 1e12)}),
        "packs lost": ({"count": Number(1, 1e12)}, {}),
        # ahead_s: of this machine, negative when behind, 0 when it is right (again); own_ahead_s: by how much this
        # machine's clock was set ahead since the cook began. count: packs whose time was not believed since the last.
        "rig clock": (
            {"ahead_s": Number(-1e11, 1e11), "own_ahead_s": Number(-1e11, 1e11)},
            {"count": Number(1, 1e12), "counts": Text(60)},
        ),
        "source lost": ({"reason": Text(400)}, {}),
        "source back": ({}, {}),
    }
)
