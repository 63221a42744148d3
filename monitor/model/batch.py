"""What went into the pot, as the batch sheet says. Frozen, with units in the names."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Oil:
    """One oil of the batch. saponification_value: mg KOH per g of oil; certified: the sheet gave it.

    lot: what is printed on the bottle or bag, empty where the sheet is silent.
    """

    name: str
    grams: float
    saponification_value: float
    certified: bool = False
    lot: str = ""


@dataclass(frozen=True, slots=True)
class Alkali:
    """kind: "KOH". assay: mass fraction of KOH in the flakes. excess: alkali above need, fraction.

    carbonate: mass fraction of K2CO3 in the flakes. naoh_share: the part of the need that NaOH meets, and
    naoh_assay the mass fraction of NaOH in its own flakes. grams: KOH flakes really weighed, None if not told.
    lot: what is printed on the bag.
    """

    kind: str
    assay: float
    excess: float
    carbonate: float = 0.0
    naoh_share: float = 0.0
    naoh_assay: float = 0.98
    grams: float | None = None
    naoh_grams: float | None = None
    lot: str = ""


@dataclass(frozen=True, slots=True)
class Batch:
    """What went into the pot, as the batch sheet says. started: Unix seconds or None.

    glycerol_grams: glycerol put in with the oils. lot: the batch's own number. cooker_litres: to the rim, None if not
    told. scale_grams: the smallest step the scale shows.
    """

    title: str
    oils: tuple[Oil, ...]
    alkali: Alkali
    water_grams: float
    started: float | None = None
    glycerol_grams: float = 0.0
    lot: str = ""
    cooker_litres: float | None = None
    scale_grams: float = 1.0
