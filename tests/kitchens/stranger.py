"""Kitchens with another physics altogether, to see whether what was learned on the first ones holds elsewhere.

Two chemistries by the seed's parity: droplets of many sizes that shrink from outside (shrinking core with a product
layer), and a stretched exponential after a lag. The cooker has a thermostat on its wall and two layers of paste.
Nothing here is shared with ``monitor.simulator.plant`` but the words for what is done to the cooker.
"""

import math
from collections.abc import Callable
from typing import Protocol

import numpy as np

from monitor.simulator.plant import Controls
from tests.kitchens.composition import Composition, draw_composition
from tests.kitchens.kitchen import (
    BETWEEN_COOKS,
    BETWEEN_KITCHENS,
    BLENDING_C,
    COOL_COOKERS,
    LITTLE_EXCESS,
    LONGEST_BORNE_MIN,
    OIL_CHOICES,
    USUAL_C,
    USUAL_EXCESS,
    CookPlan,
    Kitchen,
    Person,
    draw_batch,
    draw_person,
    draw_plateau_c,
    draw_probe,
    pace_for,
)
from tests.kitchens.trouble import draw_troubles

GAS_J_MOL_K = 8.314462618
KELVIN_AT_95 = 368.15
LAYER_STEP_S = 5.0
STRANGERS_USUAL_MIN = 195.0


def hastened(activation_j_mol: float, temperature_c: float) -> float:
    """Rate at this temperature over that at 95 degC."""
    return math.exp(-activation_j_mol / GAS_J_MOL_K * (1.0 / (temperature_c + 273.15) - 1.0 / KELVIN_AT_95))


class Progress(Protocol):
    """A chemistry: how much fat is left, and how it gets less."""

    residual: float

    def go_on(self, temperature_c: float, blending: bool, seconds: float) -> None: ...
    def stir(self, thoroughness: float) -> None: ...


class Droplets:
    """Shrinking cores of log-normally spread sizes; soap about them hinders; stirring breaks and rubs them."""

    def __init__(self, traits: dict[str, float], excess: float) -> None:
        self._traits = traits
        self._excess = excess
        spread = np.linspace(-1.8, 1.8, 13)
        weights = np.exp(-0.5 * spread**2)
        self._share = weights / weights.sum()
        self._size = np.exp(traits["size_spread"] * spread)
        self._core = np.ones(13)
        self._rubbed = 1.0
        self.residual = 1.0

    def go_on(self, temperature_c: float, blending: bool, seconds: float) -> None:
        traits = self._traits
        if blending:
            self._rubbed = 1.0
        layer = 1.0 + traits["layer"] * self._core * (1.0 - self._core) * self._size
        alkali = max(0.0, self._excess + self.residual) / (1.0 + self._excess)
        pace = traits["pace"] * hastened(traits["activation"], temperature_c) * self._rubbed
        pace *= alkali ** traits["alkali_order"]
        self._core = np.maximum(0.0, self._core - seconds / 60.0 * pace / (self._size * layer))
        self.residual = float(self._share @ self._core**3)
        # Hyperbolic in time since the stir, unlike an exponential.
        loss = seconds / traits["settling_s"] * (self._rubbed - traits["floor"]) ** 2
        self._rubbed = max(traits["floor"], self._rubbed - loss)

    def stir(self, thoroughness: float) -> None:
        self._rubbed += (1.0 - self._rubbed) * thoroughness
        self._size = np.where(
            self._size > 1.0, self._size * (1.0 - self._traits["breaking"] * thoroughness), self._size
        )


class Stretched:
    """A stretched exponential in temperature-weighted time, after a lag; excess and stirring stretch that time."""

    def __init__(self, traits: dict[str, float], excess: float) -> None:
        self._traits = traits
        self._hurry = math.exp(traits["excess_help"] * (excess - 0.03))
        self._worked_min = 0.0
        self._since_stir_s = 0.0
        self.residual = 1.0

    def go_on(self, temperature_c: float, blending: bool, seconds: float) -> None:
        traits = self._traits
        self._since_stir_s = 0.0 if blending else self._since_stir_s + seconds
        mixed = traits["floor"] + (1.0 - traits["floor"]) / (1.0 + self._since_stir_s / traits["settling_s"]) ** 0.7
        self._worked_min += (
            seconds / 60.0 * traits["pace"] * self._hurry * mixed * hastened(traits["activation"], temperature_c)
        )
        late = max(0.0, self._worked_min - traits["lag_min"])
        self.residual = math.exp(-((late / traits["scale_min"]) ** traits["stretch"]))

    def stir(self, thoroughness: float) -> None:
        self._since_stir_s *= 1.0 - thoroughness


class LayeredPot:
    """A thermostat on the wall, and paste in an outer and an inner layer that mix when stirred; probe in the inner."""

    def __init__(self, heat: dict[str, float], progress: Progress, start_c: float) -> None:
        self._heat = heat
        self._progress = progress
        self.wall_c = start_c * 0.8
        self._outer_c = self._inner_c = start_c
        self._on = True

    @property
    def paste_c(self) -> float:
        return self._inner_c

    @property
    def residual(self) -> float:
        return self._progress.residual

    def advance(self, controls: Controls, seconds: float) -> None:
        heat, steps = self._heat, max(1, math.ceil(seconds / LAYER_STEP_S))
        step_s = seconds / steps
        wanted_c = heat["room_c"] + (heat["set_c"] - heat["room_c"]) * controls.heat
        top_w_k = heat["top_w_k"] if controls.lid_on else heat["top_open_w_k"]
        for _ in range(steps):
            if self.wall_c > wanted_c + heat["play_k"]:
                self._on = False
            elif self.wall_c < wanted_c - heat["play_k"]:
                self._on = True
            power_w = heat["power_w"] if self._on and controls.heat > 0.0 else 0.0
            inward_w = heat["wall_w_k"] * (self.wall_c - self._outer_c)
            deeper_w = heat["layer_w_k"] * (self._outer_c - self._inner_c)
            before = self._progress.residual
            self._progress.go_on(0.5 * (self._outer_c + self._inner_c), controls.blending, step_s)
            reacting_w = (before - self._progress.residual) * heat["reaction_j"] / step_s
            top_w = top_w_k * (self._inner_c - heat["room_c"])
            self.wall_c += (
                step_s * (power_w - inward_w - heat["side_w_k"] * (self.wall_c - heat["room_c"])) / heat["wall_j_k"]
            )
            self._outer_c += step_s * (inward_w - deeper_w + 0.5 * reacting_w) / heat["layer_j_k"]
            self._inner_c += step_s * (deeper_w + 0.5 * reacting_w - top_w) / heat["layer_j_k"]
            self._inner_c = min(self._inner_c, 101.5)

    def stir(self, thoroughness: float) -> None:
        middle_c = 0.5 * (self._outer_c + self._inner_c)
        self._outer_c += (middle_c - self._outer_c) * thoroughness
        self._inner_c += (middle_c - self._inner_c) * thoroughness
        self._progress.stir(thoroughness)


def droplet_traits(rng: np.random.Generator) -> dict[str, float]:
    """Traits of the shrinking droplets; the pace is set later."""
    return {
        "pace": 1.0,
        "size_spread": rng.uniform(0.3, 0.7),
        "layer": rng.uniform(0.5, 8.0),
        "activation": rng.uniform(35_000.0, 70_000.0),
        "alkali_order": rng.uniform(0.15, 0.6),
        "settling_s": rng.uniform(600.0, 3000.0),
        "floor": rng.uniform(0.25, 0.7),
        "breaking": rng.uniform(0.0, 0.06),
    }


def stretched_traits(rng: np.random.Generator) -> dict[str, float]:
    """Traits of the stretched exponential; the pace is set later."""
    return {
        "pace": 1.0,
        "lag_min": rng.uniform(0.0, 15.0),
        "scale_min": 30.0,
        "stretch": rng.uniform(0.6, 0.95),
        "activation": rng.uniform(35_000.0, 70_000.0),
        "excess_help": rng.uniform(2.0, 14.0),
        "settling_s": rng.uniform(600.0, 3000.0),
        "floor": rng.uniform(0.25, 0.7),
    }


def steady_minutes(progress: Progress, person: Person, paste_c: float = USUAL_C) -> float:
    """Minutes from lid on to clear at a steady temperature, stirred through every 35 min; at most 12 h."""
    step_s, elapsed_s = 30.0, -person.blend_s
    while progress.residual > person.clear_below and elapsed_s < 43_200.0:
        progress.go_on(BLENDING_C if elapsed_s < 0.0 else paste_c, elapsed_s < 0.0, step_s)
        elapsed_s += step_s
        if elapsed_s > 0.0 and elapsed_s % 2100.0 < step_s:
            progress.stir(1.0)
    return elapsed_s / 60.0


def draw_heat(rng: np.random.Generator, plateau_c: float) -> dict[str, float]:
    """A thermostatted cooker whose inner paste settles at about ``plateau_c``."""
    room_c = rng.uniform(16.0, 25.0)
    wall_w_k, layer_w_k, top_w_k = rng.uniform(6.0, 14.0), rng.uniform(8.0, 25.0), rng.uniform(0.3, 0.9)
    through_w = top_w_k * (plateau_c - room_c)
    return {
        "room_c": room_c,
        "set_c": plateau_c + through_w / layer_w_k + through_w / wall_w_k,
        "play_k": rng.uniform(0.5, 3.0),
        "power_w": rng.uniform(180.0, 320.0),
        "wall_w_k": wall_w_k,
        "layer_w_k": layer_w_k,
        "top_w_k": top_w_k,
        "top_open_w_k": rng.uniform(1.5, 3.5),
        "side_w_k": rng.uniform(1.0, 2.0),
        "wall_j_k": rng.uniform(1500.0, 4500.0),
        "layer_j_k": rng.uniform(1200.0, 2600.0),
        "reaction_j": rng.uniform(60_000.0, 150_000.0),
    }


def draw_pace(
    rng: np.random.Generator,
    kind: Callable[[dict[str, float], float], Progress],
    shape: dict[str, float],
    person: Person,
) -> float:
    """The pace that makes the kitchen's own need."""
    wanted_min = STRANGERS_USUAL_MIN * math.exp(rng.normal(0.0, BETWEEN_KITCHENS))
    return pace_for(lambda pace: steady_minutes(kind({**shape, "pace": pace}, USUAL_EXCESS), person), wanted_min)


def stranger(
    seed: int, scatter: float = BETWEEN_COOKS, *, composition: bool = False, cool_cookers: float = COOL_COOKERS
) -> Kitchen:
    """The stranger's kitchen of a seed.

    scatter: between its cooks, in ln. composition: whether oils and water move the need. cool_cookers: share of the
    kitchens whose cooker settles below 86 degC.
    """
    slopes = draw_composition(np.random.default_rng([seed, 104])) if composition else Composition()
    kind: Callable[[dict[str, float], float], Progress] = Droplets if seed % 2 == 0 else Stretched
    for attempt in range(100):
        rng = np.random.default_rng([seed, 101, attempt])
        person = draw_person(rng)
        shape = droplet_traits(rng) if seed % 2 == 0 else stretched_traits(rng)
        pace = draw_pace(rng, kind, shape, person)
        plateau_c = draw_plateau_c(rng, cool_cookers)
        if steady_minutes(kind({**shape, "pace": pace}, LITTLE_EXCESS), person, plateau_c) < LONGEST_BORNE_MIN:
            break
    heat = draw_heat(rng, plateau_c)
    usual_oils = int(rng.integers(len(OIL_CHOICES)))
    probe_offset_c = rng.normal(0.0, 0.7)
    wall_probe = bool(rng.random() < 0.5)

    def plan(index: int) -> CookPlan:
        own = np.random.default_rng([seed, 102, index])
        batch = draw_batch(own, usual_oils)
        usual_pace = pace * slopes.pace(batch)
        traits = {**shape, "pace": usual_pace * math.exp(own.normal(0.0, scatter))}
        usual_traits = {**shape, "pace": usual_pace}
        excess = max(0.0, batch.alkali.excess + own.normal(0.0, 0.003))
        warmth = {**heat, "room_c": heat["room_c"] + own.normal(0.0, 1.5)}
        start_c = own.uniform(55.0, 76.0)
        return CookPlan(
            new_pot=lambda: LayeredPot(warmth, kind(traits, excess), start_c),
            usual_pot=lambda: LayeredPot(warmth, kind(usual_traits, batch.alkali.excess), start_c),
            scatter=scatter,
            batch=batch,
            excess=excess,
            plateau_c=plateau_c,
            person=person,
            probe=draw_probe(own, probe_offset_c),
            wall_probe=wall_probe,
            troubles=draw_troubles(own),
            seed=(seed, 103, index),
        )

    return Kitchen(f"stranger {seed}", plan)
