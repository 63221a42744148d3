"""Virtual probes: what a thermocouple converter and a pH amplifier would report of the pot."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from random import Random
from typing import TypeAlias

from monitor.model import ABSOLUTE_ZERO_C
from monitor.simulator.plant import KOH_G_MOL
from monitor.simulator.saponification import GAS_CONSTANT_J_MOL_K

FARADAY_C_MOL = 96485.33212
# A probe's output: a number, or text at a fault.
SensorValue: TypeAlias = float | str
# A 1 % sample of neutral potassium soap reads about pH 9.8 to 10.2 by the soap's own hydrolysis (common
# practice, no source).
HYDROLYSIS_MOL_L = 8e-5


@dataclass(frozen=True, slots=True)
class Fault:
    """An interval, in seconds of the run, in which a probe reports this fault."""

    begins_s: float
    ends_s: float
    fault_text: str = "open circuit"


@dataclass(frozen=True, slots=True)
class ThermocoupleTraits:
    """noise_c: standard deviation, degC.

    step_c: resolution. lag_s: time constant of the sheath. offset_c: systematic error.
    """

    noise_c: float = 0.12  # 0 to 0.6
    step_c: float = 0.25  # 0.0078 to 1
    lag_s: float = 8.0  # 1 to 60
    offset_c: float = 0.0  # -3 to 3


class Thermocouple:
    """A thermometer with lag, noise and quantisation that can come loose."""

    def __init__(self, traits: ThermocoupleTraits, rng: Random, faults: Sequence[Fault] = ()) -> None:
        self._traits = traits
        self._rng = rng
        self._faults = tuple(faults)
        self._sheath_c: float | None = None
        self._last_s = 0.0

    def read(self, elapsed_s: float, true_c: float) -> SensorValue:
        """The reading ``elapsed_s`` into the run with the tip at ``true_c`` degC: degC, or a fault's text."""
        traits = self._traits
        if self._sheath_c is None:
            self._sheath_c = true_c
        else:
            self._sheath_c += (true_c - self._sheath_c) * -math.expm1((self._last_s - elapsed_s) / traits.lag_s)
        self._last_s = elapsed_s
        noisy_c = self._sheath_c + traits.offset_c + self._rng.gauss(0.0, traits.noise_c)
        for fault in self._faults:
            if fault.begins_s <= elapsed_s < fault.ends_s:
                return fault.fault_text
        return round(noisy_c / traits.step_c) * traits.step_c


@dataclass(frozen=True, slots=True)
class ElectrodeTraits:
    """offset_v: at pH 7, V.

    slope: fraction of the Nernst slope. settle_s: time constant of the glass. storage_ph: of its solution; drift_ph:
    how far that wanders, standard deviation.
    """

    offset_v: float = 0.006  # -0.03 to 0.03 in good health
    slope: float = 0.97  # 0.9 to 1.05
    settle_s: float = 12.0  # 5 to 60
    noise_v: float = 0.0002  # 0.00005 to 0.002
    storage_ph: float = 4.6  # 4 to 7
    drift_ph: float = 0.15  # how far the storage solution wanders, one sigma


class Electrode:
    """A glass electrode that stands in its storage solution and is dipped in samples."""

    def __init__(self, traits: ElectrodeTraits, rng: Random) -> None:
        self._traits = traits
        self._rng = rng
        self._wander_ph = 0.0
        self._volts = electrode_v(traits, traits.storage_ph, 25.0)
        self._last_s = 0.0

    def read(self, elapsed_s: float, sample_ph: float | None, temperature_c: float = 25.0) -> float:
        """The voltage, V, ``elapsed_s`` into the run.

        sample_ph: None while it stands in storage; temperature_c: of the sample.
        """
        traits = self._traits
        step_s = max(0.0, elapsed_s - self._last_s)
        self._last_s = elapsed_s
        # The storage solution drifts about its mean with a correlation time of half an hour.
        keep = math.exp(-step_s / 1800.0)
        wander = self._rng.gauss(0.0, traits.drift_ph)
        self._wander_ph = self._wander_ph * keep + wander * math.sqrt(1.0 - keep * keep)
        ph = traits.storage_ph + self._wander_ph if sample_ph is None else sample_ph
        target_v = electrode_v(traits, ph, temperature_c)
        self._volts += (target_v - self._volts) * -math.expm1(-step_s / traits.settle_s)
        return round(self._volts + self._rng.gauss(0.0, traits.noise_v), 4)


def electrode_v(traits: ElectrodeTraits, ph: float, temperature_c: float) -> float:
    """The voltage of the settled electrode, V: offset - slope ln(10) R T / F (pH - 7).

    >>> f"{electrode_v(ElectrodeTraits(0.0, 1.0), 8.0, 25.0):.6f}"
    '-0.059159'
    """
    nernst_v = math.log(10.0) * GAS_CONSTANT_J_MOL_K * (temperature_c - ABSOLUTE_ZERO_C) / FARADAY_C_MOL
    return traits.offset_v - traits.slope * nernst_v * (ph - 7.0)


def sample_ph(free_koh_fraction: float, sample_percent: float) -> float:
    """The pH at 25 degC of paste diluted to ``sample_percent`` of mass: 14 + log10(c_free + c_hydrolysis).

    Parameters
    ----------
    free_koh_fraction : KOH not used up, as a fraction of the paste's mass.
    sample_percent : paste in the sample, per cent by mass.

    Limits: activity coefficients are ignored.
    """
    free_mol_l = max(0.0, free_koh_fraction) * sample_percent * 10.0 / KOH_G_MOL
    return 14.0 + math.log10(free_mol_l + HYDROLYSIS_MOL_L)
