"""The whole virtual rig, second by second: the pot, the person and the probes, giving SenML records and actions."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from random import Random
from types import MappingProxyType

from monitor.simulator.operator import SAMPLE_C, SAMPLE_PERCENT, Action, Activity, Advisor, Behaviour, Operator
from monitor.simulator.plant import Plant, PlantState, advance, lye_temperature_c, pour_lye, stir
from monitor.simulator.sensors import (
    Electrode,
    ElectrodeTraits,
    Fault,
    SensorValue,
    Thermocouple,
    ThermocoupleTraits,
    sample_ph,
)

# Oils are melted and the vessel is warm before the lye goes in; the lye has cooled a while (judgement).
OILS_C = 72.0
VESSEL_C = 62.0
LYE_AT_MOST_C = 78.0


@dataclass(frozen=True)
class Setting:
    """The parameters of a run.

    faults: by channel (paste, wall, room). power_cuts: from and to, in seconds of the run.
    """

    plant: Plant
    behaviour: Behaviour = field(default_factory=Behaviour)
    paste: ThermocoupleTraits = field(default_factory=lambda: ThermocoupleTraits(offset_c=-0.3))
    wall: ThermocoupleTraits = field(default_factory=lambda: ThermocoupleTraits(offset_c=0.4, lag_s=15.0))
    room: ThermocoupleTraits = field(default_factory=lambda: ThermocoupleTraits(noise_c=0.08, step_c=0.25, lag_s=60.0))
    electrode: ElectrodeTraits = field(default_factory=ElectrodeTraits)
    faults: Mapping[str, Sequence[Fault]] = field(default_factory=lambda: MappingProxyType({}))
    power_cuts: Sequence[tuple[float, float]] = ()


@dataclass(frozen=True, slots=True)
class Step:
    """One second of the run. at: Unix seconds. records: SenML without time. actions: what the person did."""

    at: float
    records: tuple[Mapping[str, object], ...]
    actions: tuple[Action, ...]

    def timed_records(self) -> list[Mapping[str, object]]:
        """The records with the step's time as base time, for a run whose clock is shared."""
        return [{"bt": self.at, **self.records[0]}, *self.records[1:]]


class Simulation:
    """A run from its seed: the same seed and the same advice give the same records and actions.

    began: Unix seconds of the first step.
    """

    def __init__(self, setting: Setting, advisor_for: Callable[[Behaviour], Advisor], seed: int, began: float) -> None:
        self._setting = setting
        self._began = began
        self._second = 0
        self._rng = {name: Random(f"{seed}/{name}") for name in ("paste", "wall", "room", "ph", "person", "kitchen")}
        self._operator = Operator(setting.behaviour, advisor_for(setting.behaviour), self._rng["person"], began)
        self._state = PlantState(VESSEL_C, OILS_C)
        self._thermocouples = {
            name: Thermocouple(traits, self._rng[name], setting.faults.get(name, ()))
            for name, traits in (("paste", setting.paste), ("wall", setting.wall), ("room", setting.room))
        }
        self._electrode = Electrode(setting.electrode, self._rng["ph"])
        # The kitchen warms and cools slightly while somebody works in it.
        self._room_phase = self._rng["kitchen"].uniform(0.0, 2.0 * math.pi)

    @property
    def state(self) -> PlantState:
        """The true state of the pot, which no probe reports."""
        return self._state

    @property
    def done(self) -> bool:
        """Whether the person has finished the cook."""
        return self._operator.activity is Activity.DONE

    def step(self) -> Step:
        """Advances by one second and returns the step."""
        elapsed_s = float(self._second)
        at = self._began + elapsed_s
        room_c = self._setting.plant.vessel.room_c + 0.8 * math.sin(elapsed_s / 5400.0 + self._room_phase)
        if self._second:
            self._state = advance(self._plant_at(room_c, elapsed_s), self._state, self._operator.controls, 1.0)
        ph = self._sample_ph()
        actions = tuple(self._operator.act(at, self._state.residual, ph))
        for action in actions:
            self._apply(action)
        dipped = ph if self._operator.activity is Activity.READING_PH else None
        records: list[Mapping[str, object]] = [
            _senml_record(name, "Cel", self._thermocouples[name].read(elapsed_s, true_c))
            for name, true_c in (("paste", self._state.paste_c), ("wall", self._state.wall_c), ("room", room_c))
        ]
        records.append(_senml_record("ph", "V", self._electrode.read(elapsed_s, dipped, SAMPLE_C)))
        records.append({"n": "seq", "u": "count", "v": self._second})
        self._second += 1
        return Step(at, tuple(records), actions)

    def _plant_at(self, room_c: float, elapsed_s: float) -> Plant:
        plant = self._setting.plant
        cut = any(begins_s <= elapsed_s < ends_s for begins_s, ends_s in self._setting.power_cuts)
        return replace(plant, vessel=replace(plant.vessel, room_c=room_c, power_w=0.0 if cut else plant.vessel.power_w))

    def _sample_ph(self) -> float:
        charge = self._setting.plant.charge
        free_g = charge.koh_g * (1.0 + charge.excess - self._state.converted) / (1.0 + charge.excess)
        return sample_ph(free_g / charge.paste_g, SAMPLE_PERCENT)

    def _apply(self, action: Action) -> None:
        plant = self._setting.plant
        if action.kind == "lye in":
            fresh_c = lye_temperature_c(plant.charge.koh_g, plant.charge.water_g, plant.vessel.room_c)
            self._state = pour_lye(plant, self._state, min(fresh_c, LYE_AT_MOST_C))
        elif action.kind == "stirred":
            self._state = stir(self._state, self._setting.behaviour.thoroughness)


def _senml_record(name: str, unit: str, value: SensorValue) -> Mapping[str, object]:
    return {"n": name, "u": unit, ("vs" if isinstance(value, str) else "v"): value}
