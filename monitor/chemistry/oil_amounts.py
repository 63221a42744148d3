"""The oils of one batch: how much of each, and how certain its saponification value is."""

from dataclasses import dataclass

from monitor.chemistry.fatty_acids import (
    GLYCERYL_G_PER_MOL,
    KOH_G_PER_MOL,
    NAOH_G_PER_MOL,
    FattyAcidProfile,
    fatty_acid_profile,
)
from monitor.chemistry.oils import find_oil
from monitor.chemistry.validation import check_range

# How far two laboratories' values for one oil may lie apart, mg KOH per g: judgement, after what ISO 3657 asks of them
# (from memory).
CERTIFICATE_WITHIN = 1.0
NAOH_PER_KOH = NAOH_G_PER_MOL / KOH_G_PER_MOL


@dataclass(frozen=True, slots=True)
class Portion:
    """One oil of a batch. Saponification values in mg KOH per g: lowest, taken and highest.

    The one that is taken is the table's typical one, or the certificate's. kind: as in the oils table. source: of the
    values.
    """

    name: str
    grams: float
    saponification_low: float
    saponification: float
    saponification_high: float
    kind: str
    source: str

    @property
    def need_koh_g(self) -> float:
        """Pure KOH that the oil takes, g."""
        return self.grams * self.saponification / 1000.0

    @property
    def acid_mol(self) -> float:
        """Fatty acids bound in the oil, mol."""
        return self.need_koh_g / KOH_G_PER_MOL

    @property
    def profile(self) -> FattyAcidProfile | None:
        """Its fatty acids, or None where the table has no profile."""
        return fatty_acid_profile(self.name)

    @property
    def acid_g_per_mol(self) -> float:
        """The mean molar mass of its acids, g/mol.

        From the fatty-acid profile, but at most what the saponification value allows, because the acids cannot weigh
        more than the oil that they come from.
        """
        per_acid = 1000.0 * KOH_G_PER_MOL / self.saponification
        most = per_acid if self.kind == "free acid" else per_acid - GLYCERYL_G_PER_MOL / 3.0
        profile = self.profile
        return most if profile is None else min(most, profile.acid_g_per_mol)


def portion(name: str, grams: float, certificate: float | None = None) -> Portion:
    """An oil with the table's saponification values, or with a certificate's.

    Parameters
    ----------
    name : of the oil, by any of its names.
    grams : mass of oil, g, 0.1 to 100 000.
    certificate : saponification value of the lot, mg KOH per g, 50 to 400. It overrides the table, and allows an oil
        that the table lacks, which is then taken as a triglyceride.

    Raises ValueError for an unknown oil (naming the nearest), or a number outside its range. Limits: a certificate is
    taken as exact to 1 mg KOH per g (judgement, after the reproducibility of ISO 3657, from memory).

    >>> portion("rapeseed", 600).need_koh_g, portion("rapeseed", 600, 189.2).saponification_low
    (113.16, 188.2)
    """
    grams = check_range(name, grams, 0.1, 100_000.0, "g")
    if certificate is None:
        row = find_oil(name)
        return Portion(
            name,
            grams,
            row.saponification_low,
            row.saponification_typical,
            row.saponification_high,
            row.kind,
            f"{row.standard}; {row.source}; typical: {row.typical_source}",
        )
    value = check_range(f"saponification value of {name}", certificate, 50.0, 400.0, "mg KOH per g")
    return Portion(
        name,
        grams,
        value - CERTIFICATE_WITHIN,
        value,
        value + CERTIFICATE_WITHIN,
        _kind(name),
        f"its certificate, within {CERTIFICATE_WITHIN:g} mg per g",
    )


def _kind(name: str) -> str:
    try:
        return find_oil(name).kind
    except ValueError:
        return "triglyceride"
