"""A sum's refusal of a number, said with the option and in the unit in which the number was typed."""

import argparse
from collections.abc import Mapping
from types import MappingProxyType

from monitor.chemistry import AS_CALCULATED, FRACTION, IN_PERCENT, OutOfRangeError, plain_words
from monitor.cli.sums_arguments import TypedShare

_POT = {"paste_weighed_g": ("--paste-weighed",), "water_lost_g": ("--water-lost",)}
# By the command, and by what its sum calls a number: the options that the number may come from, of which the first that
# was given is meant, or the words for what is typed without an option.
TYPED: Mapping[str, Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "alkali": {
            "koh_assay": ("--assay",),
            "koh_carbonate": ("--carbonate",),
            "excess": ("--excess",),
            "naoh_share": ("--naoh-share",),
            "scale_g": ("--scale",),
            "water_g": ("--weighed-water", "--water"),
            "lye_strength": ("--lye-strength",),
            "water_per_alkali": ("--water-per-alkali",),
            "koh_g": ("--weighed-koh",),
            "naoh_g": ("--weighed-naoh",),
            "cooker_l": ("--cooker",),
        },
        "heat": {"start_c": ("--start",), "limit_c": ("--limit",)},
        "sample": {"sample_g": ("the paste in the sample",)},
        "dilution": {
            **_POT,
            "soap_share": ("--soap-percent",),
            "paste_share": ("--paste-percent",),
            "water added": ("--water",),
        },
        "titration": {"acid_ml": ("the acid run in",), "acid_mol_l": ("--acid",), "sample_g": ("--sample",)},
        "paste": {
            "acid_ml": ("the acid run in",),
            "acid_mol_l": ("--acid",),
            "sample_g": ("--sample",),
            "scale_g": ("--scale",),
            "water_lost_g": ("--water-lost",),
            "minutes_ago": ("--ago",),
        },
        "neutralise": {
            **_POT,
            "acid_ml": ("--acid-ml",),
            "acid_mol_l": ("--acid",),
            "sample_g": ("--sample",),
            "ph": ("--ph",),
            "sample_percent": ("--sample-percent",),
            "temperature_c": ("--sample-c",),
            "end_ph": ("--end-ph",),
            "stock_strength": ("--stock-percent",),
            "reagent_g": ("--give",),
        },
        "haze": {**_POT, "hardness_dh": ("--hardness",), "water_g": ("--tap-water",)},
        "jar": {
            "jar_g": ("--jar",),
            "stock_g": ("--reading",),
            "stock_percent": ("--stock-percent",),
            "target_ph": ("--end-ph",),
            "pot_g": ("--pot",),
            "look": ("--reading",),
        },
        "thickening": {
            "jar_g": ("--jar",),
            "stock_g": ("--reading",),
            "run_out_s": ("--reading",),
            "stock_percent": ("--stock-percent",),
            "wanted_s": ("--wanted",),
            "thickener": ("--thickener",),
            "pot_g": ("--pot",),
            "look": ("--reading",),
        },
        "stock": {"reagent_g": ("the reagent",), "water_g": ("the water",), "temperature_c": ("--at",)},
        "settle": {"days": ("--days",)},
        "bottles": {
            "soap_g": ("the soap",),
            "bottle_ml": ("--bottle",),
            "kg_l": ("--density",),
            "bottles": ("--filled",),
            "additions_percent": ("the sum of all --add",),
        },
        "label": {**_POT, "contents_ml": ("--contents",)},
    }
)


def refusal(error: OutOfRangeError, args: argparse.Namespace) -> str:
    """One clause without its full stop. A number that came from a sheet or a log goes by plain words.

    args: of ``kettleside sums``, with the command as ``sum``.
    """
    places = TYPED.get(args.sum, {}).get(error.name, ())
    given = [place for place in places if not place.startswith("--") or _value(args, place) is not None]
    if not given:
        # A sheet has fractions of one; what no option is listed for is told in per cent, as results are.
        return error.in_words(plain_words(error.name), AS_CALCULATED if places else IN_PERCENT)
    place, value = given[0], _value(args, given[0])
    if place.endswith("-percent") or (isinstance(value, TypedShare) and value.in_percent):
        return error.in_words(place, IN_PERCENT)
    hint = " (a fraction; 3% is taken for 0.03)" if error.unit == FRACTION else ""
    return error.in_words(place, AS_CALCULATED) + hint


def named(refusal_text: str, args: argparse.Namespace) -> str:
    """A refusal of a sum that is about no range, with the option in place of the sum's own name at its head."""
    first, _, rest = refusal_text.partition(" ")
    places = TYPED.get(args.sum, {}).get(first, ())
    return f"{places[0]} {rest}" if places else refusal_text


def _value(args: argparse.Namespace, place: str) -> object:
    return getattr(args, place.removeprefix("--").replace("-", "_"), None)
