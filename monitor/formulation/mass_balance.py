"""The contents of the pot by mass balance: soap, glycerol, water, excess alkali, unreacted oil, and later additions.

Triglyceride + 3 KOH = 3 soap + glycerol; free acid + KOH = soap + water; wax ester + KOH = soap + alcohol, which stays.
Mass is conserved except for water that boils off and samples that are taken.
"""

from dataclasses import dataclass, field, replace

from monitor.chemistry import (
    CARBONATE_G_PER_MOL,
    GLYCEROL_G_PER_MOL,
    KOH_G_PER_MOL,
    NAOH_G_PER_MOL,
    POTASSIUM_FOR_HYDROGEN_G,
    SODIUM_FOR_HYDROGEN_G,
    WATER_G_PER_MOL,
    Portion,
    check_range,
)
from monitor.formulation.alkali import Charge
from monitor.formulation.neutralisers import find_neutraliser


@dataclass(frozen=True, slots=True)
class OilSoap:
    """The soap that one oil has become.

    acid_mol: its fatty acids, mol. acid_g_per_mol: their mean molar mass. grams: soap.
    """

    oil: str
    acid_mol: float
    acid_g_per_mol: float
    grams: float


@dataclass(frozen=True, slots=True)
class Addition:
    """Something added by mass: its name and grams."""

    what: str
    grams: float


@dataclass(frozen=True, slots=True)
class MassBalance:
    """The contents of the pot, in g and mol.

    soaps: by oil. water_g: free water. excess_alkali_mol, excess_alkali_g: hydroxide beyond what the oils take, before
    any neutraliser. unreacted_oil_g: oil beyond what the alkali takes. rest_g: matter that neither reacts nor dissolves
    (unsaponifiable matter, alcohols of a wax). paste_g: the part of all this that came out of the cook. reagents:
    neutralisers added, as they are in the bag. additions: everything else. sodium_share: share of NaOH in the alkali,
    by number of molecules.
    """

    soaps: tuple[OilSoap, ...]
    glycerol_g: float
    water_g: float
    excess_alkali_mol: float = field(metadata={"key": "alkali_over_mol"})
    excess_alkali_g: float = field(metadata={"key": "alkali_over_g"})
    carbonate_g: float
    unreacted_oil_g: float = field(metadata={"key": "oil_over_g"})
    rest_g: float
    sodium_share: float
    paste_g: float
    reagents: tuple[Addition, ...] = ()
    additions: tuple[Addition, ...] = ()

    @property
    def soap_g(self) -> float:
        """Real soap, the salts of the fatty acids, g."""
        return sum(soap.grams for soap in self.soaps)

    @property
    def soap_mol(self) -> float:
        """Fatty acids bound as soap, mol."""
        return sum(soap.acid_mol for soap in self.soaps)

    @property
    def total_g(self) -> float:
        """The mass of everything in the pot, g."""
        addition = sum(each.grams for each in (*self.reagents, *self.additions))
        dry = (
            self.soap_g + self.glycerol_g + self.excess_alkali_g + self.carbonate_g + self.unreacted_oil_g + self.rest_g
        )
        return dry + self.water_g + addition

    @property
    def soap_share(self) -> float:
        """Mass fraction of real soap."""
        return self.soap_g / self.total_g

    @property
    def paste_share(self) -> float:
        """Mass fraction of paste."""
        return self.paste_g / self.total_g

    @property
    def carbonate_mol(self) -> float:
        """Potassium carbonate, mol."""
        return self.carbonate_g / CARBONATE_G_PER_MOL

    @property
    def neutralised_mol(self) -> float:
        """Alkali that the reagents take when they react completely, mol; borates take less."""
        each = ((find_neutraliser(addition.what), addition.grams) for addition in self.reagents)
        return sum(grams / reagent.g_per_mol * reagent.oh_mol for reagent, grams in each)

    def with_water(self, grams: float) -> "MassBalance":
        """The pot after water was added, 0 to 1e6 g."""
        return replace(self, water_g=self.water_g + check_range("water added", grams, 0.0, 1e6, "g"))

    def with_addition(self, what: str, grams: float) -> "MassBalance":
        """The pot after something was added, 0 to 1e6 g."""
        return replace(
            self, additions=(*self.additions, Addition(what, check_range(f"{what} added", grams, 0.0, 1e6, "g")))
        )

    def with_reagent(self, name: str, grams: float) -> "MassBalance":
        """The pot after a neutraliser was added, dry, 0 to 1e6 g. Raises ValueError for a reagent not in the table."""
        addition = Addition(find_neutraliser(name).name, check_range(f"{name} added", grams, 0.0, 1e6, "g"))
        return replace(self, reagents=(*self.reagents, addition))

    def with_water_boiled_off(self, grams: float) -> "MassBalance":
        """The pot after ``grams`` of its water boiled off; the paste loses the same mass."""
        lost = check_range("water boiled off", grams, 0.0, self.water_g, "g")
        return replace(self, water_g=self.water_g - lost, paste_g=max(self.paste_g - lost, 0.0))

    def with_weighed_mass(self, grams: float, scale_g: float = 1.0) -> "MassBalance":
        """The pot when the scale shows ``grams``: the difference is water that boiled off, and all of it is paste now.

        scale_g: the smallest step of the scale, g. Raises ValueError for more than can be there, or less than what
        cannot boil off.
        """
        total = self.total_g
        lost = total - check_range("paste_weighed_g", grams, total - self.water_g, total + scale_g, "g")
        return replace(self, water_g=self.water_g - max(lost, 0.0), paste_g=total - max(lost, 0.0))

    def with_sample_taken(self, grams: float) -> "MassBalance":
        """The pot after ``grams`` of its mixed contents were taken out, less than all of it."""
        total = self.total_g
        left = 1.0 - check_range("taken out", grams, 0.0, 0.999 * total, "g") / total
        return replace(
            self,
            soaps=tuple(replace(soap, acid_mol=soap.acid_mol * left, grams=soap.grams * left) for soap in self.soaps),
            glycerol_g=self.glycerol_g * left,
            water_g=self.water_g * left,
            excess_alkali_mol=self.excess_alkali_mol * left,
            excess_alkali_g=self.excess_alkali_g * left,
            carbonate_g=self.carbonate_g * left,
            unreacted_oil_g=self.unreacted_oil_g * left,
            rest_g=self.rest_g * left,
            paste_g=self.paste_g * left,
            reagents=tuple(replace(addition, grams=addition.grams * left) for addition in self.reagents),
            additions=tuple(replace(addition, grams=addition.grams * left) for addition in self.additions),
        )


def cooked_batch(charge: Charge, *, water_lost_g: float = 0.0, paste_weighed_g: float | None = None) -> MassBalance:
    """The contents of the pot when the cook is done, all alkali or all oil having reacted.

    Parameters
    ----------
    charge : the oils, alkali and water that went in.
    water_lost_g : water that boiled off, g, 0 to all of it.
    paste_weighed_g : mass of the paste, g, from which the loss follows instead.

    Raises ValueError without alkali, and for a paste heavier than what went in or lighter than what cannot boil off.

    Limits: complete reaction of the limiting reactant; one mean molar mass of the acids per oil.

    >>> from monitor.formulation.alkali import ChargeInputs, charge
    >>> from monitor.chemistry.oil_amounts import portion
    >>> plan = charge(ChargeInputs((portion("rapeseed", 600),), water_g=540))
    >>> pot = cooked_batch(plan, paste_weighed_g=1200)
    >>> round(pot.total_g), round(pot.soap_share, 3)
    (1200, 0.538)
    """
    need_mol = charge.need_koh_g / KOH_G_PER_MOL
    koh_mol, naoh_mol = charge.pure_koh_g / KOH_G_PER_MOL, charge.pure_naoh_g / NAOH_G_PER_MOL
    alkali_mol = koh_mol + naoh_mol
    if alkali_mol <= 0:
        raise ValueError("there is no alkali on the sheet, and without it there is no soap")
    sodium = naoh_mol / alkali_mol
    reacted = min(1.0, alkali_mol / need_mol)
    over_mol = max(alkali_mol - need_mol, 0.0)
    cation_g = POTASSIUM_FOR_HYDROGEN_G + sodium * (SODIUM_FOR_HYDROGEN_G - POTASSIUM_FOR_HYDROGEN_G)
    soaps, glycerol_g, made_water_g, rest_g = _products(charge, reacted, cation_g)
    flake_water_g = charge.koh_g - charge.pure_koh_g - charge.carbonate_g + charge.naoh_g - charge.pure_naoh_g
    water_g = charge.water_g + flake_water_g + made_water_g
    pot = MassBalance(
        soaps=soaps,
        glycerol_g=glycerol_g,
        water_g=water_g,
        excess_alkali_mol=over_mol,
        excess_alkali_g=over_mol * (KOH_G_PER_MOL + sodium * (NAOH_G_PER_MOL - KOH_G_PER_MOL)),
        carbonate_g=charge.carbonate_g,
        unreacted_oil_g=charge.oil_g * (1.0 - reacted),
        rest_g=rest_g,
        sodium_share=sodium,
        paste_g=0.0,
    )
    if paste_weighed_g is not None:
        return pot.with_weighed_mass(paste_weighed_g, charge.inputs.scale_g)
    check_range("water_lost_g", water_lost_g, 0.0, water_g, "g")
    return replace(pot, water_g=water_g - water_lost_g, paste_g=pot.total_g - water_lost_g)


def _products(charge: Charge, reacted: float, cation_g: float) -> tuple[tuple[OilSoap, ...], float, float, float]:
    """The soaps, and all glycerol, reaction water and remaining matter, g, after the fraction ``reacted`` of the oils.

    cation_g: molar mass of a salt minus that of its acid, g/mol.
    """
    glycerol_g, water_g, rest_g = charge.inputs.glycerol_g, 0.0, 0.0
    soaps = []
    for each in charge.inputs.portions:
        mol = each.acid_mol * reacted
        soaps.append(OilSoap(each.name, mol, each.acid_g_per_mol, mol * (each.acid_g_per_mol + cation_g)))
        glycerol, water, rest = _by_products(each, mol, reacted)
        glycerol_g, water_g, rest_g = glycerol_g + glycerol, water_g + water, rest_g + rest
    return tuple(soaps), glycerol_g, water_g, rest_g


def _by_products(portion: Portion, mol: float, reacted: float) -> tuple[float, float, float]:
    """Glycerol, water and remaining matter, g, formed with ``mol`` of soap from this oil."""
    fat_g = portion.grams * reacted
    if portion.kind == "free acid":
        return 0.0, mol * WATER_G_PER_MOL, fat_g - mol * portion.acid_g_per_mol
    if portion.kind == "wax ester":
        # Ester + KOH = soap + alcohol: the alcohol is the oil minus the acid plus the water of the ester bond.
        return 0.0, 0.0, fat_g - mol * (portion.acid_g_per_mol - WATER_G_PER_MOL)
    glycerol_g = mol / 3.0 * GLYCEROL_G_PER_MOL
    # This equals fat + hydroxide - soap - glycerol, for either cation.
    return glycerol_g, 0.0, fat_g + mol * WATER_G_PER_MOL - mol * portion.acid_g_per_mol - glycerol_g
