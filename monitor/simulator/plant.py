"""A virtual slow cooker with soap paste in it: two lumped heat capacities, and saponification across an interface.

The heat flows from the element through the vessel's wall into the paste; both lose heat to the room, and water
evaporates from the open surface or past the lid. The reaction follows ``saponification``, which on purpose is not the
rate law of ``monitor.estimation``: a monitor tried on this cooker meets a process that it was not built from. A stir
renews the mixing, which then settles again.

========================  ==========================  =========  ====================================================
constant                  quantity                    unit       source
========================  ==========================  =========  ====================================================
KOH_SOLUTION_HEAT_J_MOL   heat of solution of KOH     J/mol      Parker, NSRDS-NBS 2 (1965): 57.61 kJ/mol at
                                                                 infinite dilution, as the CRC Handbook has it
KOH_G_MOL                 molar mass of KOH           g/mol      atomic masses of K, O and H
SAPONIFICATION_HEAT_J_G   heat of saponification      J/g oil    judgement from enthalpies of formation: 55 kJ per mol
                                                                 of ester, three esters to 0.885 kg of oil
OIL_HEAT_J_G_K            specific heat of oil        J/(g K)    from memory
WATER_HEAT_J_G_K          specific heat of water      J/(g K)    from memory
KOH_HEAT_J_G_K            that of dissolved KOH       J/(g K)    from memory: 30 % lye has about 3.2 J/(g K)
HEAT_SETTINGS             share of the rated power    1          judgement
========================  ==========================  =========  ====================================================
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from monitor.model import Batch
from monitor.simulator.saponification import Chemistry, conversion_per_s
from monitor.simulator.vessel import Vessel, loss_w

KOH_SOLUTION_HEAT_J_MOL = 57_600.0
KOH_G_MOL = 56.1056
SAPONIFICATION_HEAT_J_G = 186.0
OIL_HEAT_J_G_K = 2.0
WATER_HEAT_J_G_K = 4.18
KOH_HEAT_J_G_K = 0.9
MAX_STEP_S = 5.0
FULLY_MIXED = 1.0

HEAT_SETTINGS: Mapping[str, float] = MappingProxyType({"off": 0.0, "warm": 0.45, "low": 0.7, "high": 1.0})


@dataclass(frozen=True, slots=True)
class PlantCharge:
    """What is in the pot.

    oil_g, water_g: 1 to 20 000 g. koh_g: pure KOH, 0 to 20 000 g. excess: -0.5 to 0.5 of the need.
    """

    oil_g: float
    water_g: float
    koh_g: float
    excess: float

    def __post_init__(self) -> None:
        for name, value, low in (("oil_g", self.oil_g, 1.0), ("water_g", self.water_g, 1.0), ("koh_g", self.koh_g, 0)):
            if not low <= value <= 20_000.0:
                raise ValueError(f"{name} is {value!r}; it must be from {low:g} to 20000")
        if not -0.5 <= self.excess <= 0.5:
            raise ValueError(f"excess is {self.excess!r}; it must be from -0.5 to 0.5")

    @staticmethod
    def of(batch: Batch) -> "PlantCharge":
        """The charge that a batch sheet describes.

        >>> from monitor.model import Alkali, Oil
        >>> batch = Batch("", (Oil("triolein", 1000.0, 190.09),), Alkali("KOH", 0.9, 0.03), 800.0)
        >>> round(PlantCharge.of(batch).koh_g, 1)
        195.8
        """
        need_g = sum(oil.grams * oil.saponification_value for oil in batch.oils) / 1000.0
        excess = batch.alkali.excess
        return PlantCharge(sum(oil.grams for oil in batch.oils), batch.water_grams, need_g * (1.0 + excess), excess)

    @property
    def paste_g(self) -> float:
        """Everything in the pot, in g."""
        return self.oil_g + self.water_g + self.koh_g

    @property
    def oil_j_k(self) -> float:
        """Heat capacity of the oils alone, J/K."""
        return self.oil_g * OIL_HEAT_J_G_K

    @property
    def lye_j_k(self) -> float:
        """Heat capacity of the lye, J/K."""
        return self.water_g * WATER_HEAT_J_G_K + self.koh_g * KOH_HEAT_J_G_K


@dataclass(frozen=True, slots=True)
class PlantState:
    """The pot at one moment.

    wall_c, paste_c: degC. converted: fraction of the fat that is soap; mixing: 1 just after a stir.

    heater_j, reaction_j, lost_j: energy from the element, set free by the reaction, and lost to the room, J, each since
    the state was made.
    """

    wall_c: float
    paste_c: float
    lye_in: bool = False
    converted: float = 0.0
    mixing: float = FULLY_MIXED
    heater_j: float = 0.0
    reaction_j: float = 0.0
    lost_j: float = 0.0

    @property
    def residual(self) -> float:
        """The fraction of the fat that is not soap yet."""
        return 1.0 - self.converted


@dataclass(frozen=True, slots=True)
class Controls:
    """The cooker's settings. heat: fraction of the rated power, 0 in a power cut."""

    heat: float = 1.0
    lid_on: bool = True
    blending: bool = False


@dataclass(frozen=True, slots=True)
class Plant:
    """A vessel, its contents, and how they react."""

    charge: PlantCharge
    vessel: Vessel = field(default_factory=Vessel)
    chemistry: Chemistry = field(default_factory=Chemistry)


def lye_temperature_c(koh_g: float, water_g: float, water_c: float) -> float:
    """The temperature, degC, of fresh lye in a vessel without losses: T_0 + n dH / (m c).

    Parameters
    ----------
    koh_g, water_g : pure KOH and water, g.
    water_c : T_0, initial temperature, degC.

    Limits: heat at infinite dilution, so a little high for strong lye; boiling is ignored.

    >>> round(lye_temperature_c(0.0, 300.0, 20.0), 3)
    20.0
    """
    heat_j = koh_g / KOH_G_MOL * KOH_SOLUTION_HEAT_J_MOL
    return water_c + heat_j / (water_g * WATER_HEAT_J_G_K + koh_g * KOH_HEAT_J_G_K)


def pour_lye(plant: Plant, state: PlantState, lye_c: float) -> PlantState:
    """The pot just after lye of ``lye_c`` degC went into the oils. Raises ValueError where the lye is in already."""
    if state.lye_in:
        raise ValueError("state.lye_in is True; lye goes in once")
    oil_j_k, lye_j_k = plant.charge.oil_j_k, plant.charge.lye_j_k
    paste_c = (oil_j_k * state.paste_c + lye_j_k * lye_c) / (oil_j_k + lye_j_k)
    return PlantState(state.wall_c, paste_c, True, 0.0, FULLY_MIXED, state.heater_j, state.reaction_j, state.lost_j)


def stir(state: PlantState, thoroughness: float = 1.0) -> PlantState:
    """The pot just after a stir. thoroughness: 0 (nothing) to 1 (mixed through)."""
    if not 0.0 <= thoroughness <= 1.0:
        raise ValueError(f"thoroughness is {thoroughness!r}; it must be from 0 to 1")
    mixing = max(state.mixing, state.mixing + (FULLY_MIXED - state.mixing) * thoroughness)
    return PlantState(
        state.wall_c,
        state.paste_c,
        state.lye_in,
        state.converted,
        mixing,
        state.heater_j,
        state.reaction_j,
        state.lost_j,
    )


def advance(plant: Plant, state: PlantState, controls: Controls, seconds: float) -> PlantState:
    """The pot ``seconds`` later, under constant controls.

    Explicit midpoint steps of at most 5 s: second order, and stable for every parameter in its range.
    Raises ValueError when ``seconds`` is negative or not finite.
    """
    if not 0.0 <= seconds < math.inf:
        raise ValueError(f"seconds is {seconds!r}; it must be from 0 upwards")
    steps = max(1, math.ceil(seconds / MAX_STEP_S))
    step_s = seconds / steps
    half_s = 0.5 * step_s
    wall_c, paste_c, converted, mixing = state.wall_c, state.paste_c, state.converted, state.mixing
    lost_j = state.lost_j
    for _ in range(steps):
        middle_mixing, end_mixing = _mixing_after(plant.chemistry, controls, mixing, half_s)
        if controls.blending:
            mixing = middle_mixing
        wall_k_s, paste_k_s, rate, _ = _slopes(plant, state.lye_in, controls, (wall_c, paste_c, converted, mixing))
        middle = (wall_c + half_s * wall_k_s, paste_c + half_s * paste_k_s, converted + half_s * rate, middle_mixing)
        wall_k_s, paste_k_s, rate, loss_w_now = _slopes(plant, state.lye_in, controls, middle)
        wall_c += step_s * wall_k_s
        paste_c += step_s * paste_k_s
        converted = min(1.0, converted + step_s * rate)
        lost_j += step_s * loss_w_now
        mixing = end_mixing
    return PlantState(
        wall_c,
        paste_c,
        state.lye_in,
        converted,
        mixing,
        state.heater_j + plant.vessel.power_w * controls.heat * seconds,
        state.reaction_j + (converted - state.converted) * _reaction_heat_j(plant, state.lye_in),
        lost_j,
    )


def _reaction_heat_j(plant: Plant, lye_in: bool) -> float:
    """Heat, J, that full conversion of the oils sets free; 0 before the lye is in."""
    return SAPONIFICATION_HEAT_J_G * plant.charge.oil_g if lye_in else 0.0


def _mixing_after(chemistry: Chemistry, controls: Controls, mixing: float, half_s: float) -> tuple[float, float]:
    """The mixing after half a step and after a whole step of two times ``half_s`` seconds.

    The mixing settles exponentially whatever else happens, so its steps are exact.
    """
    if controls.blending:
        return chemistry.blender_mixing, chemistry.blender_mixing
    keep, floor = math.exp(-half_s / chemistry.settling_s), chemistry.settled_mixing
    middle = floor + (mixing - floor) * keep
    return middle, floor + (middle - floor) * keep


def _slopes(
    plant: Plant, lye_in: bool, controls: Controls, at: tuple[float, float, float, float]
) -> tuple[float, float, float, float]:
    """Time derivatives at (wall degC, paste degC, conversion, mixing).

    Returns those of the wall and of the paste in K/s, of the conversion in 1/s, and the heat lost to the room in W.
    """
    wall_c, paste_c, converted, mixing = at
    vessel, charge = plant.vessel, plant.charge
    across_w = vessel.wall_to_paste_w_k * (0.6 + 0.4 * min(mixing, 1.0)) * (wall_c - paste_c)
    wall_loss_w, paste_loss_w = loss_w(vessel, wall_c, paste_c, controls.lid_on)
    reaction_j = _reaction_heat_j(plant, lye_in)
    rate = conversion_per_s(plant.chemistry, charge.excess, paste_c, converted, mixing) if reaction_j else 0.0
    return (
        (vessel.power_w * controls.heat - across_w - wall_loss_w) / vessel.wall_j_k,
        (across_w + rate * reaction_j - paste_loss_w) / (charge.oil_j_k + (charge.lye_j_k if lye_in else 0.0)),
        rate,
        wall_loss_w + paste_loss_w,
    )
