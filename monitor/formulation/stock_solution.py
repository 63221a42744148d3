"""Stock solutions: whether the reagent stays dissolved, and how much water it needs."""

from dataclasses import dataclass

from monitor.chemistry import check_range
from monitor.formulation.cautions import Caution
from monitor.formulation.neutralisers import dissolves_above_c, find_neutraliser, saturated


@dataclass(frozen=True, slots=True)
class Stock:
    """A stock solution. Masses in g; strength: mass fraction of the reagent as weighed.

    saturated: the saturation limit at temperature_c, mass fraction, or None where the table has no row. stays: whether
    the reagent stays dissolved there. clear_above_c: from which temperature it does, None if never below boiling.
    least_water_g: the least water that keeps it dissolved.
    """

    reagent: str
    reagent_g: float
    water_g: float
    strength: float
    temperature_c: float
    saturated: float | None
    stays: bool | None
    clear_above_c: float | None
    least_water_g: float | None
    meaning: tuple[str, ...]
    cautions: tuple[Caution, ...]


def make_stock_solution(name: str, reagent_g: float, water_g: float, temperature_c: float = 20.0) -> Stock:
    """A reagent in water compared with its solubility at the storage temperature.

        m_water >= m (1 - w_s) / w_s, with w_s the mass fraction at saturation

    Parameters
    ----------
    name : of the reagent.
    reagent_g, water_g : 0.1 to 10 000 g.
    temperature_c : storage temperature, degC: 0 to 100 for borates, 10 to 100 for citric acid.

    Raises ValueError outside these ranges, for an unknown reagent, and for one that does not dissolve in water.

    >>> borax = make_stock_solution("borax", 25, 70)
    >>> borax.stays, round(borax.least_water_g), round(borax.clear_above_c)
    (False, 506, 57)
    """
    reagent = find_neutraliser(name)
    check_range("reagent_g", reagent_g, 0.1, 10_000.0, "g")
    check_range("water_g", water_g, 0.1, 10_000.0, "g")
    check_range("temperature_c", temperature_c, 0.0, 100.0, "°C")
    if reagent.kind == "fatty acid":
        raise ValueError(f"reagent is {reagent.name!r}, which does not dissolve in water; it goes in melted, undiluted")
    strength = reagent_g / (reagent_g + water_g)
    limit = saturated(reagent, temperature_c)
    above = dissolves_above_c(reagent, strength)
    stays = None if limit is None else strength <= limit
    least = None if limit is None else reagent_g * (1.0 - limit) / limit
    return Stock(
        reagent.name,
        reagent_g,
        water_g,
        strength,
        temperature_c,
        limit,
        stays,
        above,
        least,
        _meaning(reagent.name, strength, temperature_c, limit, above, least),
        reagent.cautions,
    )


def _meaning(
    name: str, strength: float, temperature_c: float, limit: float | None, above: float | None, least: float | None
) -> tuple[str, ...]:
    if limit is None or least is None:
        return (f"{strength:.1%} {name}; how much dissolves is not in the table.",)
    if strength <= limit:
        return (f"{strength:.1%} {name} stays dissolved at {temperature_c:.0f} °C (up to {limit:.1%} does).",)
    when = f"it dissolves from about {above:.0f} °C up" if above is not None else "not even when boiling"
    return (
        f"{strength:.1%} {name} does not stay dissolved at {temperature_c:.0f} °C, where {limit:.1%} is the most: "
        f"{when}. Take at least {least:.0f} g of water, or use it hot and at once.",
        "What has settled out is not in the spoon: a dose by volume from such a bottle is too small.",
    )
