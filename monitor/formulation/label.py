"""The label: ingredients in falling order of mass, by common names and by the international cosmetic nomenclature."""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from monitor.chemistry import check_range, find_oil
from monitor.formulation.alkali import Charge
from monitor.formulation.cautions import SKIN, Caution
from monitor.formulation.mass_balance import MassBalance
from monitor.formulation.neutralisers import find_neutraliser

NAMES_WARNING = (
    "The listed names are from memory of the international nomenclature of cosmetic ingredients: hold each against the "
    "official glossary, and the whole label against local law, before anything is printed."
)
# Common name and listed name. Water boiled off and water of dilution are the same ingredient.
WATER = ("water", "Aqua")
GLYCEROL = ("glycerol", "Glycerin")
# Additions under these names are merged with an ingredient that the bottle holds already.
KNOWN_ADDITIONS = MappingProxyType({"water": WATER} | dict.fromkeys(("glycerol", "glycerin", "glycerine"), GLYCEROL))
HYDROXIDE = ("potassium hydroxide", "Potassium Hydroxide")
SODA = ("sodium hydroxide", "Sodium Hydroxide")
CARBONATE = ("potassium carbonate", "Potassium Carbonate")
REAGENTS: Mapping[str, tuple[tuple[str, str], tuple[str, str]]] = MappingProxyType(
    {
        "citric acid anhydrous": (("citric acid", "Citric Acid"), ("potassium citrate", "Potassium Citrate")),
        "citric acid monohydrate": (("citric acid", "Citric Acid"), ("potassium citrate", "Potassium Citrate")),
        "lactic acid": (("lactic acid", "Lactic Acid"), ("potassium lactate", "Potassium Lactate")),
        "boric acid": (("boric acid", "Boric Acid"), ("potassium borate", "Potassium Borate")),
        "borax decahydrate": (("borax", "Sodium Borate"), ("borax", "Sodium Borate")),
        "borax pentahydrate": (("borax", "Sodium Borate"), ("borax", "Sodium Borate")),
        "borax anhydrous": (("borax", "Sodium Borate"), ("borax", "Sodium Borate")),
        "oleic acid": (("oleic acid", "Oleic Acid"), ("potassium oleate", "Potassium Oleate")),
        "stearic acid": (("stearic acid", "Stearic Acid"), ("potassium stearate", "Potassium Stearate")),
    }
)


@dataclass(frozen=True, slots=True)
class Ingredient:
    """One line of the list. listed: its name in the nomenclature. grams: in the product; share: as a mass fraction."""

    common: str
    listed: str
    grams: float
    share: float


@dataclass(frozen=True, slots=True)
class Label:
    """The text of a bottle's label. made: the date in the maker's words. contents_ml: volume in one bottle, mL.

    as_put_in: the list names what went into the pot; otherwise what is in the bottle.
    """

    title: str
    lot: str
    made: str
    contents_ml: float
    as_put_in: bool
    ingredients: tuple[Ingredient, ...]
    cautions: tuple[Caution, ...]

    @property
    def common_list(self) -> str:
        """The ingredients in one line, by common names."""
        return ", ".join(each.common for each in self.ingredients)

    @property
    def listed(self) -> str:
        """The ingredients in one line, by the nomenclature."""
        return ", ".join(each.listed for each in self.ingredients)


@cache
def _oil_names() -> Mapping[str, tuple[str, str, str]]:
    text = files("monitor.formulation").joinpath("ingredient_names.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(text.splitlines())
    return MappingProxyType({row["oil"]: (row["common_name"], row["listed_oil"], row["listed_soap"]) for row in rows})


def _names_of_oil(name: str) -> tuple[str, str, str]:
    try:
        return _oil_names()[find_oil(name).name]
    except ValueError:
        return name, name, f"Potassium salt of {name}"


def ingredient_label(
    charge: Charge,
    pot: MassBalance,
    *,
    title: str,
    lot: str,
    made: str,
    contents_ml: float,
    as_put_in: bool = False,
) -> Label:
    """The label of what is in the pot, with ingredients in falling order of mass.

    Parameters
    ----------
    charge : the charge, for the oils and the alkali.
    pot : the contents to be labelled.
    title, lot, made : text to print, each at most 200 characters.
    contents_ml : volume in one bottle, mL, 5 to 20 000.
    as_put_in : list what went in instead of what is in the bottle.

    Raises ValueError for text that is too long or a volume outside its range. Limits: names are from memory and must be
    checked against the official glossary.

    >>> from monitor.formulation.alkali import ChargeInputs, charge
    >>> from monitor.formulation.mass_balance import cooked_batch
    >>> from monitor.chemistry.oil_amounts import portion
    >>> plan = charge(ChargeInputs((portion("rapeseed", 600),), water_g=540))
    >>> label = ingredient_label(plan, cooked_batch(plan), title="Soap", lot="1", made="May", contents_ml=250)
    >>> label.ingredients[0].common
    'potassium soap of rapeseed oil'
    """
    for name, text in (("title", title), ("lot", lot), ("made", made)):
        if len(text) > 200:
            raise ValueError(f"{name} has {len(text)} characters; it must have at most 200")
    check_range("contents_ml", contents_ml, 5.0, 20_000.0, "mL")
    return Label(
        title,
        lot,
        made,
        contents_ml,
        as_put_in,
        _ingredients(charge, pot, as_put_in=as_put_in),
        (Caution("ingredients", NAMES_WARNING), Caution("ingredients", SKIN)),
    )


def _ingredients(charge: Charge, pot: MassBalance, *, as_put_in: bool) -> tuple[Ingredient, ...]:
    """The ingredients in falling order of mass, equal names merged."""
    grams: dict[tuple[str, str], float] = {}
    for names, weight in _ingredients_put_in(charge, pot) if as_put_in else _ingredients_in_bottle(pot):
        grams[names] = grams.get(names, 0.0) + weight
    for addition in pot.additions:
        names = KNOWN_ADDITIONS.get(addition.what.strip().casefold(), (addition.what, addition.what))
        grams[names] = grams.get(names, 0.0) + addition.grams
    total = sum(grams.values())
    by_weight = sorted(((weight, names) for names, weight in grams.items() if weight > 0), key=lambda each: -each[0])
    return tuple(Ingredient(common, listed, weight, weight / total) for weight, (common, listed) in by_weight)


def _ingredients_put_in(charge: Charge, pot: MassBalance) -> list[tuple[tuple[str, str], float]]:
    # Samples reduce every ingredient in proportion, so the order of the masses put in stays.
    addition: list[tuple[tuple[str, str], float]] = [(WATER, pot.water_g)]
    addition += [(_names_of_oil(each.name)[:2], each.grams) for each in charge.inputs.portions]
    addition += [(HYDROXIDE, charge.pure_koh_g), (SODA, charge.pure_naoh_g), (GLYCEROL, charge.inputs.glycerol_g)]
    addition += [(REAGENTS[find_neutraliser(each.what).name][0], each.grams) for each in pot.reagents]
    return addition


def _ingredients_in_bottle(pot: MassBalance) -> list[tuple[tuple[str, str], float]]:
    amounts: list[tuple[tuple[str, str], float]] = [(WATER, pot.water_g), (GLYCEROL, pot.glycerol_g)]
    for soap in pot.soaps:
        common, oil, salt = _names_of_oil(soap.oil)
        share = pot.sodium_share
        amounts.append(((f"potassium soap of {common}", salt), soap.grams * (1.0 - share)))
        amounts.append(((f"sodium soap of {common}", salt.replace("Potassium", "Sodium")), soap.grams * share))
        amounts.append(((common, oil), pot.unreacted_oil_g * soap.acid_mol / pot.soap_mol))
    amounts.append((CARBONATE, pot.carbonate_g))
    amounts += [(REAGENTS[find_neutraliser(each.what).name][1], each.grams) for each in pot.reagents]
    # Alkali that the reagents have not taken is still lye, and is listed as such.
    left = 1.0 - min(pot.neutralised_mol / pot.excess_alkali_mol, 1.0) if pot.excess_alkali_mol > 0 else 0.0
    amounts.append((HYDROXIDE, pot.excess_alkali_g * left))
    return amounts
