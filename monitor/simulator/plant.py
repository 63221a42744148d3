"""A virtual slow cooker with soap paste in it: lumped heat, and saponification across an interface.

The chemistry is on purpose not the rate law of ``monitor.estimation``: a monitor that is tried on this cooker meets
a world that it did not write.

Heat: element -> crock wall -> paste, both losing to the room; evaporation from the open surface or past the lid.
Saponification: a film between oil and lye carries two resistances in series, the reaction at the interface
(Arrhenius, an area that grows as soap emulsifies the oil and shrinks as the droplets do) and the way through the
thickening paste (little helped by heat, much by stirring). What a stir renewed settles again.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from monitor.model import ABSOLUTE_ZERO_C, Batch

GAS_CONSTANT_J_MOL_K = 8.314462618
REFERENCE_C = 95.0
# CRC Handbook after NSRDS-NBS 2, at infinite dilution.
KOH_SOLUTION_HEAT_J_MOL = 57_600.0
KOH_G_MOL = 56.1056
# Judgement from formation enthalpies: 55 kJ per mol of ester, three esters to 0.885 kg of oil.
SAPONIFICATION_HEAT_J_G = 186.0
OIL_HEAT_J_G_K = 2.0
WATER_HEAT_J_G_K = 4.18
# Dissolved KOH adds next to nothing: 30 % lye holds about 3.2 J/(g K) (from memory).
KOH_HEAT_J_G_K = 0.9
LONGEST_STEP_S = 5.0
FULLY_MIXED = 1.0

# Fraction of the rated power (judgement).
HEAT_SETTINGS: Mapping[str, float] = MappingProxyType({"off": 0.0, "warm": 0.45, "low": 0.7, "high": 1.0})


@dataclass(frozen=True, slots=True)
class Crock:
    """The cooker without its contents. The sane range of each stands beside it.

    A 3-litre cooker by default, which loses about 2.2 W/K in all with its lid on (judgement).
    """

    power_w: float = 165.0  # 70 to 210
    wall_j_k: float = 2100.0  # 1200 to 4500
    wall_to_paste_w_k: float = 9.0  # 4 to 20, when stirred
    wall_to_room_w_k: float = 1.5  # 0.8 to 3
    paste_to_room_w_k: float = 0.55  # 0.2 to 1.2
    steam_lid_on_w_kpa: float = 0.04  # 0 to 0.15
    steam_lid_off_w_kpa: float = 0.75  # 0.3 to 1.5
    boiling_c: float = 101.5  # 99 to 104
    boiling_w_k: float = 150.0  # 50 to 400
    room_c: float = 20.0  # 10 to 32


@dataclass(frozen=True, slots=True)
class Chemistry:
    """How the paste turns to soap. Rates are per minute at 95 degC, fully mixed, without soap to hinder.

    settled_mixing: what is left of the mixing long after a stir, relative to just after it.
    settling_s: how fast the paste settles. early_interface: the interface before any soap, relative to after.
    """

    interface_per_min: float = 0.3  # 0.02 to 1
    activation_j_mol: float = 54_000.0  # 25 000 to 80 000
    fat_order: float = 0.8  # 0.6 to 1.2; 2/3 is a shrinking droplet
    alkali_order: float = 0.75  # 0.4 to 1.2
    early_interface: float = 0.2  # 0.05 to 1
    emulsified_at: float = 0.07  # 0.01 to 0.3, conversion where half the gain is had
    diffusion_per_min: float = 0.225  # 0.02 to 1
    diffusion_activation_j_mol: float = 20_000.0  # 12 000 to 30 000
    diffusion_alkali_order: float = 0.5  # 0.2 to 1
    diffusion_mixing_order: float = 1.3  # 0.5 to 2
    settling_s: float = 1500.0  # 600 to 5400
    settled_mixing: float = 0.4  # 0.1 to 0.9
    blender_mixing: float = 1.2  # 1 to 3
    thickening: float = 0.5  # 0 to 2, how much slower diffusion is in finished soap


@dataclass(frozen=True, slots=True)
class PlantCharge:
    """What is in the pot. excess: alkali above what the oils take, fraction; koh_g: pure KOH."""

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
    """The pot at one moment. converted: fraction of the fat that is soap; mixing: 1 just after a stir.

    heater_j, reaction_j, lost_j: energy put in by the element, set free by the reaction and lost to the room,
    each since the state was made.
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
    """What is done to the cooker. heat: fraction of the rated power, 0 in a power cut."""

    heat: float = 1.0
    lid_on: bool = True
    blending: bool = False


@dataclass(frozen=True, slots=True)
class Plant:
    """A crock, what is in it, and how that reacts."""

    charge: PlantCharge
    crock: Crock = Crock()
    chemistry: Chemistry = Chemistry()


def lye_temperature_c(koh_g: float, water_g: float, water_c: float) -> float:
    """Temperature of lye just made in a vessel that loses nothing: dissolution heat over the lye's heat capacity.

    Infinite-dilution heat, so a little high for strong lye; no boiling is reckoned with.

    >>> round(lye_temperature_c(0.0, 300.0, 20.0), 3)
    20.0
    """
    heat_j = koh_g / KOH_G_MOL * KOH_SOLUTION_HEAT_J_MOL
    return water_c + heat_j / (water_g * WATER_HEAT_J_G_K + koh_g * KOH_HEAT_J_G_K)


def pour_lye(cooker: Plant, state: PlantState, lye_c: float) -> PlantState:
    """The pot just after lye of this temperature (degC) went into the oils."""
    if state.lye_in:
        raise ValueError("state.lye_in is True; lye goes in once")
    oil_j_k, lye_j_k = cooker.charge.oil_j_k, cooker.charge.lye_j_k
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


def saturation_kpa(temperature_c: float) -> float:
    """Vapour pressure of water, kPa (Magnus form of Alduchov and Eskridge 1996; 3 % high at 100 degC)."""
    return 0.61094 * math.exp(17.625 * temperature_c / (temperature_c + 243.04))


def loss_w(crock: Crock, wall_c: float, paste_c: float, lid_on: bool) -> tuple[float, float]:
    """Heat that wall and paste lose to the room, W."""
    steam_w_kpa = crock.steam_lid_on_w_kpa if lid_on else crock.steam_lid_off_w_kpa
    steam_w = steam_w_kpa * max(0.0, saturation_kpa(paste_c) - 0.5 * saturation_kpa(crock.room_c))
    boiling_w = max(0.0, paste_c - crock.boiling_c) * crock.boiling_w_k
    wall_w = crock.wall_to_room_w_k * (wall_c - crock.room_c)
    return wall_w, crock.paste_to_room_w_k * (paste_c - crock.room_c) + steam_w + boiling_w


def conversion_per_s(chemistry: Chemistry, excess: float, paste_c: float, converted: float, mixing: float) -> float:
    """How fast fat turns to soap, fraction per second: two resistances in series."""
    fat = 1.0 - converted
    alkali = (1.0 + excess - converted) / (1.0 + excess)
    if fat <= 0.0 or alkali <= 0.0:
        return 0.0
    colder = 1.0 / (paste_c - ABSOLUTE_ZERO_C) - 1.0 / (REFERENCE_C - ABSOLUTE_ZERO_C)
    emulsified = converted / (converted + chemistry.emulsified_at) * (1.0 + chemistry.emulsified_at)
    area = chemistry.early_interface + (1.0 - chemistry.early_interface) * emulsified
    interface: float = (
        chemistry.interface_per_min
        * math.exp(-chemistry.activation_j_mol / GAS_CONSTANT_J_MOL_K * colder)
        * area
        * mixing
        * fat**chemistry.fat_order
        * alkali**chemistry.alkali_order
    )
    diffusion: float = (
        chemistry.diffusion_per_min
        * math.exp(-chemistry.diffusion_activation_j_mol / GAS_CONSTANT_J_MOL_K * colder)
        * mixing**chemistry.diffusion_mixing_order
        * fat
        * alkali**chemistry.diffusion_alkali_order
        / (1.0 + chemistry.thickening * converted)
    )
    return interface * diffusion / (interface + diffusion) / 60.0


def advance(cooker: Plant, state: PlantState, controls: Controls, seconds: float) -> PlantState:
    """The pot ``seconds`` later, under controls that stay as they are.

    Explicit midpoint steps of at most 5 s: second order, and stable for every parameter in its range.
    Raises ValueError when ``seconds`` is negative or not finite.
    """
    if not 0.0 <= seconds < math.inf:
        raise ValueError(f"seconds is {seconds!r}; it must be from 0 upwards")
    crock, chemistry, charge = cooker.crock, cooker.chemistry, cooker.charge
    heater_w = crock.power_w * controls.heat
    paste_j_k = charge.oil_j_k + (charge.lye_j_k if state.lye_in else 0.0)
    reaction_j = SAPONIFICATION_HEAT_J_G * charge.oil_g if state.lye_in else 0.0
    steps = max(1, math.ceil(seconds / LONGEST_STEP_S))
    step_s = seconds / steps

    def slopes(wall_c: float, paste_c: float, converted: float, mixing: float) -> tuple[float, float, float, float]:
        coupling_w_k = crock.wall_to_paste_w_k * (0.6 + 0.4 * min(mixing, 1.0))
        across_w = coupling_w_k * (wall_c - paste_c)
        wall_loss_w, paste_loss_w = loss_w(crock, wall_c, paste_c, controls.lid_on)
        rate = conversion_per_s(chemistry, charge.excess, paste_c, converted, mixing) if reaction_j else 0.0
        return (
            (heater_w - across_w - wall_loss_w) / crock.wall_j_k,
            (across_w + rate * reaction_j - paste_loss_w) / paste_j_k,
            rate,
            wall_loss_w + paste_loss_w,
        )

    wall_c, paste_c, converted, mixing = state.wall_c, state.paste_c, state.converted, state.mixing
    lost_j = state.lost_j
    # The mixing settles exponentially whatever else happens, so its steps are exact.
    half_keep = math.exp(-0.5 * step_s / chemistry.settling_s)
    floor = chemistry.settled_mixing
    for _ in range(steps):
        if controls.blending:
            mixing = middle_mixing = end_mixing = chemistry.blender_mixing
        else:
            middle_mixing = floor + (mixing - floor) * half_keep
            end_mixing = floor + (middle_mixing - floor) * half_keep
        wall_k_s, paste_k_s, rate, _ = slopes(wall_c, paste_c, converted, mixing)
        half_s = 0.5 * step_s
        wall_k_s, paste_k_s, rate, now_lost_w = slopes(
            wall_c + half_s * wall_k_s, paste_c + half_s * paste_k_s, converted + half_s * rate, middle_mixing
        )
        wall_c += step_s * wall_k_s
        paste_c += step_s * paste_k_s
        converted = min(1.0, converted + step_s * rate)
        lost_j += step_s * now_lost_w
        mixing = end_mixing
    return PlantState(
        wall_c,
        paste_c,
        state.lye_in,
        converted,
        mixing,
        state.heater_j + heater_w * seconds,
        state.reaction_j + (converted - state.converted) * reaction_j,
        lost_j,
    )
