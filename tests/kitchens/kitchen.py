"""Virtual kitchens: a cooker, a maker and their scatter, drawn from wide ranges.

The physics is ``monitor.simulator.plant`` with its exponents, its film and its mixing drawn anew for every kitchen, so
that no kitchen follows the estimator's rate law. Ranges are judgement; the spread between kitchens (a factor of
1.4, one sigma) and between the cooks of one (0.1 in ln) are those of the task.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from monitor.chemistry import find_oil
from monitor.model import Alkali, Batch, Oil
from monitor.simulator.plant import Controls, Plant, PlantCharge, PlantState, advance, pour_lye, stir
from monitor.simulator.saponification import Chemistry, conversion_per_s
from monitor.simulator.vessel import Vessel, loss_w
from tests.kitchens.composition import Composition, draw_composition
from tests.kitchens.trouble import Trouble, draw_troubles

BETWEEN_KITCHENS = math.log(1.4)
BETWEEN_COOKS = 0.1
# What an ordinary kitchen needs at a steady 95 degC from lid on, stirred every 35 min, at 3 % excess.
USUAL_MIN = 155.0
USUAL_C = 95.0
USUAL_EXCESS = 0.03
BLENDING_C = 74.0
COOL_COOKERS = 0.15
# Nobody goes on with a cooker in which a batch of little excess takes longer.
LONGEST_BORNE_MIN = 480.0
LITTLE_EXCESS = 0.01
OIL_CHOICES = (
    ("rapeseed", "coconut", "castor"),
    ("sunflower", "coconut"),
    ("sunflower high-oleic", "castor"),
    ("soybean", "palm kernel", "castor"),
    ("rapeseed",),
)


class Pot(Protocol):
    """What the driver of a cook needs of any physics."""

    @property
    def paste_c(self) -> float: ...
    @property
    def wall_c(self) -> float: ...
    @property
    def residual(self) -> float: ...
    def advance(self, controls: Controls, seconds: float) -> None: ...
    def stir(self, thoroughness: float) -> None: ...


@dataclass(frozen=True)
class Person:
    """How the maker of a kitchen works. Times in seconds; eye in ln of residual fat, one sigma.

    says_nearly_clear: knows that word. tells_stages: presses the buttons for how the paste looks, now and then.
    titrations: how many samples of the paste are titrated in a cook.
    """

    stir_every_s: float
    stir_jitter: float
    forgets: float
    thoroughness: float
    stir_takes_s: float
    blend_s: float
    longest_delay_s: float
    eye: float
    clear_below: float
    hazy_below: float
    says_nearly_clear: bool = False
    tells_stages: bool = False
    titrations: int = 0


@dataclass(frozen=True)
class Probe:
    """The paste thermocouple of one cook. degC and seconds."""

    noise_c: float
    offset_c: float
    step_c: float
    lag_s: float


@dataclass(frozen=True)
class CookPlan:
    """One cook before it is cooked: everything drawn that does not depend on what the person is told.

    usual_pot: the same cook without its own scatter, as one who knows the kitchen would expect it.
    scatter: of the cooks about that, one sigma in ln. excess: the true one of the alkali. plateau_c: where the paste
    settles when all is well, degC. seed: of the stirs, the readings' noise and what the person sees in a sample.
    """

    new_pot: Callable[[], Pot]
    usual_pot: Callable[[], Pot]
    scatter: float
    batch: Batch
    excess: float
    plateau_c: float
    person: Person
    probe: Probe
    wall_probe: bool
    troubles: tuple[Trouble, ...]
    seed: tuple[int, ...]


@dataclass(frozen=True)
class Kitchen:
    """A kitchen from its seed. plan: the cook of an index from 0."""

    name: str
    plan: Callable[[int], CookPlan]


class CrockPot:
    """The rig's cooker as a Pot."""

    def __init__(self, cooker: Plant, start: PlantState, lye_c: float) -> None:
        self._cooker = cooker
        self._state = pour_lye(cooker, start, lye_c)

    @property
    def paste_c(self) -> float:
        return self._state.paste_c

    @property
    def wall_c(self) -> float:
        return self._state.wall_c

    @property
    def residual(self) -> float:
        return self._state.residual

    def advance(self, controls: Controls, seconds: float) -> None:
        self._state = advance(self._cooker, self._state, controls, seconds)

    def stir(self, thoroughness: float) -> None:
        self._state = stir(self._state, thoroughness)


def draw_person(rng: np.random.Generator) -> Person:
    """A maker: their stirring, their pace and their eye."""
    clear_below = 0.01 * math.exp(rng.normal(0.0, 0.2))
    return Person(
        stir_every_s=60.0 * rng.uniform(25.0, 60.0),
        stir_jitter=rng.uniform(0.03, 0.2),
        forgets=rng.choice([0.0, 0.05, 0.2]),
        thoroughness=rng.uniform(0.7, 1.0),
        stir_takes_s=rng.uniform(40.0, 120.0),
        blend_s=60.0 * rng.uniform(8.0, 25.0),
        longest_delay_s=240.0,
        eye=rng.uniform(0.05, 0.2),
        clear_below=clear_below,
        hazy_below=clear_below * rng.uniform(3.0, 4.5),
    )


def draw_batch(rng: np.random.Generator, kitchen_oils: int) -> Batch:
    """A batch of the kitchen's usual oils, now and then of others."""
    choice = OIL_CHOICES[kitchen_oils if rng.random() < 0.7 else int(rng.integers(len(OIL_CHOICES)))]
    total_g = rng.uniform(400.0, 800.0)
    shares = rng.dirichlet([6.0, *([2.0] * (len(choice) - 1))])
    oils = tuple(
        Oil(name, round(float(total_g * share), 1), find_oil(name).saponification_typical)
        for name, share in zip(choice, shares, strict=True)
    )
    excess = round(float(rng.uniform(0.0, 0.06)), 3)
    return Batch("Virtual batch", oils, Alkali("KOH", 0.9, excess), round(float(total_g * rng.uniform(0.75, 1.1)), 1))


def draw_probe(rng: np.random.Generator, offset_c: float) -> Probe:
    """The probe of one cook in a kitchen whose probes read ``offset_c`` too high."""
    return Probe(
        noise_c=rng.uniform(0.05, 0.4),
        offset_c=offset_c + rng.normal(0.0, 0.2),
        step_c=0.25,
        lag_s=rng.uniform(3.0, 30.0),
    )


def draw_plateau_c(rng: np.random.Generator, cool_cookers: float = COOL_COOKERS) -> float:
    """Where the cooker settles: 86 to 99 degC, for the cool ones 78 to 85. cool_cookers: their share."""
    return float(rng.uniform(78.0, 85.0) if rng.random() < cool_cookers else rng.uniform(87.0, 98.5))


def steady_minutes(
    chemistry: Chemistry, person: Person, paste_c: float = USUAL_C, excess: float = USUAL_EXCESS
) -> float:
    """Minutes from lid on to clear at a steady temperature, stirred through every 35 min; at most 12 h."""
    step_s, converted, mixing, elapsed_s = 30.0, 0.0, 1.0, -person.blend_s
    keep = math.exp(-step_s / chemistry.settling_s)
    while 1.0 - converted > person.clear_below and elapsed_s < 43_200.0:
        if elapsed_s < 0.0:
            mixing = chemistry.blender_mixing
        elif elapsed_s % 2100.0 < step_s:
            mixing = 1.0
        # The oils are not hot yet while they are blended.
        temperature_c = BLENDING_C if elapsed_s < 0.0 else paste_c
        rate = conversion_per_s(chemistry, excess, temperature_c, converted, mixing)
        converted = min(1.0, converted + step_s * rate)
        mixing = chemistry.settled_mixing + (mixing - chemistry.settled_mixing) * keep
        elapsed_s += step_s
    return elapsed_s / 60.0


def at_pace(chemistry: Chemistry, pace: float) -> Chemistry:
    """The same chemistry, all of it faster by this factor."""
    return replace(
        chemistry,
        interface_per_min=chemistry.interface_per_min * pace,
        diffusion_per_min=chemistry.diffusion_per_min * pace,
    )


def draw_chemistry(rng: np.random.Generator, person: Person) -> Chemistry:
    """Exponents, film and mixing at random, then the pace that makes the kitchen's own need."""
    shape = Chemistry(
        interface_per_min=0.27,
        activation_j_mol=rng.uniform(42_000.0, 72_000.0),
        fat_order=rng.uniform(0.67, 1.15),
        alkali_order=rng.uniform(0.45, 1.1),
        early_interface=rng.uniform(0.08, 0.6),
        emulsified_at=math.exp(rng.uniform(math.log(0.02), math.log(0.2))),
        diffusion_per_min=0.27 * math.exp(rng.normal(-0.1, 0.6)),
        diffusion_activation_j_mol=rng.uniform(20_000.0, 45_000.0),
        diffusion_alkali_order=rng.uniform(0.3, 0.9),
        diffusion_mixing_order=rng.uniform(0.4, 1.8),
        settling_s=rng.uniform(900.0, 3600.0),
        settled_mixing=rng.uniform(0.2, 0.75),
        blender_mixing=rng.uniform(1.0, 1.5),
        thickening=rng.uniform(0.0, 1.5),
    )
    wanted_min = USUAL_MIN * math.exp(rng.normal(0.0, BETWEEN_KITCHENS))
    pace = pace_for(lambda pace: steady_minutes(at_pace(shape, pace), person), wanted_min)
    return at_pace(shape, pace)


def pace_for(minutes: Callable[[float], float], wanted_min: float) -> float:
    """The pace at which ``minutes(pace)`` is what is wanted, to about 1 %; minutes fall as the pace grows."""
    # Time goes nearly as one over pace, so this settles in a few rounds; the bounds hold it where it would not.
    low, high, pace = 1e-4, 100.0, 1.0
    for _ in range(12):
        got_min = minutes(pace)
        if abs(got_min / wanted_min - 1.0) < 0.01:
            break
        low, high = (pace, high) if got_min > wanted_min else (low, pace)
        pace *= got_min / wanted_min
        if not low < pace < high:
            pace = math.sqrt(low * high)
    return pace


def draw_vessel(rng: np.random.Generator, plateau_c: float, room_c: float, usual_paste_j_k: float) -> Vessel:
    """A crock that settles at this plateau (degC) with a lag of 20 to 60 min."""
    loss_w_k = rng.uniform(1.5, 3.0)
    lag_s = 60.0 * rng.uniform(20.0, 60.0)
    vessel = Vessel(
        power_w=0.0,
        wall_j_k=max(900.0, lag_s * loss_w_k - usual_paste_j_k),
        wall_to_paste_w_k=rng.uniform(5.0, 14.0),
        wall_to_room_w_k=loss_w_k * 0.7,
        paste_to_room_w_k=loss_w_k * 0.25,
        steam_lid_on_w_kpa=rng.uniform(0.01, 0.08),
        steam_lid_off_w_kpa=rng.uniform(0.4, 1.2),
        boiling_c=rng.uniform(100.5, 103.0),
        room_c=room_c,
    )
    # At rest the paste's loss comes through the wall, which is hotter by that much; mixing about half settled.
    _, paste_loss_w = loss_w(vessel, plateau_c, plateau_c, True)
    wall_c = plateau_c + paste_loss_w / (vessel.wall_to_paste_w_k * 0.85)
    return replace(vessel, power_w=sum(loss_w(vessel, wall_c, plateau_c, True)))


def kitchen(
    seed: int, scatter: float = BETWEEN_COOKS, *, composition: bool = False, cool_cookers: float = COOL_COOKERS
) -> Kitchen:
    """The kitchen of a seed; the same seed, the same kitchen and cooks.

    scatter: between its cooks, in ln. composition: whether oils and water move the need. cool_cookers: share of the
    kitchens whose cooker settles below 86 degC.
    """
    slopes = draw_composition(np.random.default_rng([seed, 4])) if composition else Composition()
    for attempt in range(100):
        rng = np.random.default_rng([seed, 1, attempt])
        person = draw_person(rng)
        chemistry = draw_chemistry(rng, person)
        plateau_c = draw_plateau_c(rng, cool_cookers)
        if steady_minutes(chemistry, person, plateau_c, LITTLE_EXCESS) < LONGEST_BORNE_MIN:
            break
    usual_oils = int(rng.integers(len(OIL_CHOICES)))
    vessel = draw_vessel(rng, plateau_c, rng.uniform(16.0, 24.0), 3400.0)
    probe_offset_c = rng.normal(0.0, 0.7)
    wall_probe = bool(rng.random() < 0.5)
    # Oils of one shop are off their book value together.
    excess_off = rng.normal(0.0, 0.003)

    def plan(index: int) -> CookPlan:
        own = np.random.default_rng([seed, 2, index])
        batch = draw_batch(own, usual_oils)
        nominal = PlantCharge.of(batch)
        usual_excess = nominal.excess + excess_off
        weighed_off = own.normal(0.0, 0.002)
        own_crock = replace(vessel, room_c=vessel.room_c + own.normal(0.0, 1.5))
        usual_chemistry = at_pace(chemistry, slopes.pace(batch))
        own_chemistry = at_pace(usual_chemistry, math.exp(own.normal(0.0, scatter)))
        usual = Plant(replace(nominal, excess=max(0.0, usual_excess)), own_crock, usual_chemistry)
        cooker = Plant(replace(nominal, excess=max(0.0, usual_excess + weighed_off)), own_crock, own_chemistry)
        start = PlantState(own.uniform(25.0, 65.0), own.uniform(60.0, 78.0))
        lye_c = own.uniform(45.0, 80.0)
        return CookPlan(
            new_pot=lambda: CrockPot(cooker, start, lye_c),
            usual_pot=lambda: CrockPot(usual, start, lye_c),
            scatter=scatter,
            batch=batch,
            excess=cooker.charge.excess,
            plateau_c=plateau_c,
            person=person,
            probe=draw_probe(own, probe_offset_c),
            wall_probe=wall_probe,
            troubles=draw_troubles(own),
            seed=(seed, 3, index),
        )

    return Kitchen(f"kitchen {seed}", plan)
