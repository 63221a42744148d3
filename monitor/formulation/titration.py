"""Free alkali by titration, reported as ISO 456 does: per cent by mass of KOH in the soap."""

from dataclasses import dataclass

from monitor.chemistry import check_range, titrated_koh_share
from monitor.formulation.cautions import ACID_AND_ALCOHOL, Caution

# The coverage factor of a stated uncertainty, about 95 % (JCGM 100:2008, 6.3.3).
COVERAGE = 2.0
# One way to tell the strength of every strong acid.
ACID_STRENGTH = (
    "The acid's strength is in mol of H+ per litre: hydrochloric acid of 0.1 mol/L is 0.1, and so is sulfuric acid of "
    "0.05 mol/L, which gives two. Citric acid is too weak to titrate with."
)
TITRATION_STEPS = (
    "Weigh about 10 g of soap into a flask, to a hundredth of a gram if the scale can.",
    "Dissolve it in about 100 mL of hot ethanol that was first brought to the faintest pink itself. In water the soap "
    "itself is alkaline, and the result comes out too high.",
    "A few drops of phenolphthalein: pink means free alkali; no pink means none to titrate.",
    "Run in a strong acid of 0.1 mol of H+ per litre from a burette, drop by drop at the end, until the pink is just "
    "gone.",
    "Note the millilitres, the acid's strength and the soap's weight. Do it twice; they should agree within a tenth.",
    "ISO 456 has, for potassium soaps, carbonate out of the way with barium chloride first; without that, carbonate "
    "stays undissolved in ethanol for the most part. The standard itself tells the rest.",
)


@dataclass(frozen=True, slots=True)
class TitrationInputs:
    """acid_ml: acid run in, 0 to 100 mL.

    acid_mol_l: its strength, 0.001 to 2 mol of H+ per litre. sample_g: 0.1 to 200 g, on a scale with steps of scale_g.
    """

    acid_ml: float
    acid_mol_l: float
    sample_g: float
    scale_g: float = 0.01

    def __post_init__(self) -> None:
        check_range("acid_ml", self.acid_ml, 0.0, 100.0, "mL")
        check_range("acid_mol_l", self.acid_mol_l, 0.001, 2.0, "mol/L")
        check_range("sample_g", self.sample_g, 0.1, 200.0, "g")
        check_range("scale_g", self.scale_g, 0.0001, 100.0, "g")


@dataclass(frozen=True, slots=True)
class Titration:
    """Free alkali.

    koh_percent: KOH in the soap, per cent by mass; within_percent: its uncertainty either way, at about 95 %. how: the
    steps.
    """

    inputs: TitrationInputs
    koh_percent: float
    within_percent: float
    how: tuple[str, ...]
    cautions: tuple[Caution, ...]


def free_alkali(inputs: TitrationInputs) -> Titration:
    """Free alkali from a titration with a strong acid, in per cent of KOH, by ``titrated_koh_share``.

    Parameters
    ----------
    inputs : acid, its strength and the sample.

    Limits: valid for soap dissolved in neutral ethanol; in water, hydrolysis gives too high a result.

    References
    ----------
    .. [1] ISO 456, Surface active agents: analysis of soaps: determination of free caustic alkali (ethanol method).

    >>> round(free_alkali(TitrationInputs(acid_ml=2.30, acid_mol_l=0.1000, sample_g=10.00)).koh_percent, 3)
    0.129
    """
    share, uncertainty = titrated_koh_share(inputs.acid_ml, inputs.acid_mol_l, inputs.sample_g, inputs.scale_g)
    return Titration(
        inputs,
        100.0 * share,
        100.0 * COVERAGE * uncertainty,
        (*TITRATION_STEPS, ACID_STRENGTH),
        (Caution("acid_ml", ACID_AND_ALCOHOL),),
    )
