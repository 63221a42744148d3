"""Three invented cooks to try the program with: a smooth one, a power cut with late stirs, and a loose probe.

Nobody made them; every number comes from the virtual rig and a seed.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from monitor.formulation import read_sheet
from monitor.simulator.operator import Behaviour, FixedPractice
from monitor.simulator.plant import Plant, PlantCharge
from monitor.simulator.sensors import Fault
from monitor.simulator.simulation import Setting, Simulation, Step

# Enough for the estimate, and small enough to ship.
SAMPLE_INTERVAL_S = 10
DAY_S = 86_400.0
# 2 May 2026, 09:00 UTC.
FIRST_BEGAN = 1_777_712_400.0
LONGEST_S = 12 * 3600
WARNING = "INVENTED. This cook was never made: a seeded virtual cooker and person produced every number in it."


@dataclass(frozen=True)
class SampleCook:
    """One cook to be invented. name: of its file; description: what happens in it; days: after the first cook."""

    name: str
    title: str
    description: str
    days: int
    excess: float
    behaviour: Behaviour
    faults: dict[str, Sequence[Fault]] = field(default_factory=dict)
    power_cuts: tuple[tuple[float, float], ...] = ()

    @property
    def began(self) -> float:
        """The start of the cook, Unix seconds."""
        return FIRST_BEGAN + self.days * DAY_S

    def sheet(self) -> str:
        """The batch sheet as TOML text."""
        return (
            f'# {WARNING}\ntitle = "{self.title}"\n'
            '[[oil]]\nname = "sunflower"\nsaponification_value = 190\ngrams = 420\n'
            '[[oil]]\nname = "coconut"\nsaponification_value = 256\ngrams = 140\n'
            f'[alkali]\nkind = "KOH"\nassay = 0.90\nexcess = {self.excess}\n[water]\ngrams = 480\n'
        )

    def steps(self, seed: int) -> list[Step]:
        """The steps of the whole cook; readings every SAMPLE_INTERVAL_S seconds, actions whenever they happen."""
        plant = Plant(PlantCharge.of(read_sheet(self.sheet())))
        setting = Setting(plant, self.behaviour, faults=self.faults, power_cuts=self.power_cuts)
        simulation = Simulation(setting, FixedPractice, seed, self.began)
        steps: list[Step] = []
        for second in range(LONGEST_S):
            step = simulation.step()
            records = (
                [r for r in step.records if r["n"] in ("paste", "wall", "room")]
                if second % SAMPLE_INTERVAL_S == 0
                else []
            )
            if records or step.actions:
                steps.append(Step(step.at, tuple(records), step.actions))
            if simulation.done:
                break
        return steps


ATTENTIVE = Behaviour(stir_lateness_s=60.0, check_lateness_s=60.0, first_check_s=10_200.0, recheck_s=1200.0)
OVERWORKED = Behaviour(stir_every_s=5400.0, stir_lateness_s=900.0, first_check_s=10_800.0)
SAMPLE_COOKS: tuple[SampleCook, ...] = (
    SampleCook(
        "smooth",
        "Invented: a smooth cook",
        "Nothing goes wrong: stirred on time, checked on time.",
        0,
        0.03,
        ATTENTIVE,
    ),
    SampleCook(
        "power-cut",
        "Invented: a power cut and late stirs",
        "The power is out for 40 minutes in the second hour, and the stirs come late.",
        7,
        0.03,
        OVERWORKED,
        power_cuts=((6600.0, 9000.0),),
    ),
    SampleCook(
        "loose-probe",
        "Invented: a probe that came loose",
        "The paste's probe works loose after an hour and a half, comes and goes, and is pushed back in.",
        14,
        0.03,
        ATTENTIVE,
        faults={
            "paste": (Fault(5600.0, 5800.0), Fault(5900.0, 6700.0), Fault(6760.0, 7300.0)),
        },
    ),
)
