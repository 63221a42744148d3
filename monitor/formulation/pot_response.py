"""How a pot's pH answers to acid: the model's range of capacities, narrowed by what its own doses did.

Two things are unknown of a pot: how much acid its soap takes up as acid soap, and how much hydroxide and other alkali
stands behind a reading. Each reading after a dose weighs both, as it does the true pH behind the first reading.
"""

import math
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import accumulate

from monitor.chemistry import ACID_SOAP_PER_PH, NO_OFFSET, PhOffset, acid_at
from monitor.formulation.jar_neutralising import READING_NOISE
from monitor.formulation.mass_balance import MassBalance
from monitor.formulation.soap_ph import acid_between, sample_solution, sample_water_kg

# Acid soap from none to the model's high end, each equally likely, and three times that, hardly likely (judgement):
# (mol of H+ per mol of soap and unit of pH, its weight).
ACID_SOAP = tuple((ACID_SOAP_PER_PH[2] * n / 8.0, 1.0 if n <= 8 else 0.7 ** (n - 8)) for n in range(0, 25, 1))
# Alkali behind the reading and true pH behind the first reading, in standard deviations.
DEVIATIONS = (-2.4, -1.8, -1.2, -0.6, 0.0, 0.6, 1.2, 1.8, 2.4)
STEP_PH = 0.04


@dataclass(frozen=True, slots=True)
class DosedReading:
    """A reading, and the acid given between the first reading and this one, mol of H+."""

    acid_mol: float
    ph: float


@dataclass(frozen=True)
class Response:
    """A pot's belief in its own capacity.

    readings: in order, the first without acid. pot: as it is now, its neutralisers in it. target_ph: at or below the
    last reading.
    """

    pot: MassBalance
    readings: Sequence[DosedReading]
    target_ph: float
    sample_percent: float = 1.0
    temperature_c: float = 25.0
    offset: PhOffset = NO_OFFSET

    def by_model(self) -> tuple[float, float, float]:
        """Acid, mol of H+, from the first reading to the target by the model alone: low, middle, high."""
        ends = (self.readings[0].ph, self.target_ph)
        return acid_between(self.pot, *ends, self.sample_percent, self.temperature_c, self.offset)

    def remaining(self) -> tuple[float, float, float]:
        """Acid, mol of H+, that is still needed: the central 80 % and the median. Negative where it is past."""
        dosed_mol = self.readings[-1].acid_mol
        needs = sorted((need - dosed_mol, weight) for need, weight in self._needs)
        whole = sum(weight for _, weight in needs)
        sums = list(accumulate(weight for _, weight in needs))
        low, middle, high = (
            needs[min(bisect_right(sums, share * whole), len(needs) - 1)][0] for share in (0.1, 0.5, 0.9)
        )
        return low, middle, high

    @cached_property
    def _grid(self) -> list[float]:
        """Readings from above the highest to below the target, falling."""
        phs = [reading.ph for reading in self.readings]
        top, bottom = max(phs) + 0.3, min(*phs, self.target_ph) - 0.6
        return [top - n * STEP_PH for n in range(math.ceil((top - bottom) / STEP_PH) + 1)]

    @cached_property
    def _needs(self) -> list[tuple[float, float]]:
        """(acid from the first reading to the target, mol; its weight) over the grid of the unknowns."""
        logs: list[tuple[float, float]] = []
        for curve, log_weight in self._curves():
            for deviation in DEVIATIONS:
                start = self._acid_at(curve, self.readings[0].ph + deviation * READING_NOISE)
                log = log_weight - 0.5 * deviation**2
                for reading in self.readings[1:]:
                    expected = self._ph_at(curve, start + reading.acid_mol)
                    log -= 0.5 * ((reading.ph - expected) / READING_NOISE) ** 2
                logs.append((self._acid_at(curve, self.target_ph) - start, log))
        best = max(log for _, log in logs)
        return [(need, math.exp(log - best)) for need, log in logs]

    def _curves(self) -> Iterator[tuple[list[float], float]]:
        """(acid from the top of the grid down to each pH of it, mol; log of its weight) of each pot that may be."""
        sample = sample_solution(self.pot, 0.0, self.sample_percent, self.temperature_c)
        kg = sample_water_kg(self.pot, self.sample_percent)
        phs = [ph - self.offset.ph for ph in self._grid]
        bare = replace(sample, soap=0.0)
        alone = [acid_at(bare, ph) * kg for ph in phs]
        for per_ph, weight in ACID_SOAP:
            soapy = replace(sample, acid_soap_per_ph=per_ph)
            by_soap = [acid_at(soapy, ph) * kg - other for ph, other in zip(phs, alone, strict=True)]
            for deviation in DEVIATIONS:
                factor = 10.0 ** (deviation * self.offset.reading_sd)
                curve = [factor * other + soap for other, soap in zip(alone, by_soap, strict=True)]
                yield [each - curve[0] for each in curve], math.log(weight) - 0.5 * deviation**2

    def _acid_at(self, curve: list[float], ph: float) -> float:
        """Acid from the top of the grid down to a pH, mol."""
        place = (self._grid[0] - ph) / STEP_PH
        left = min(max(int(place), 0), len(curve) - 2)
        return curve[left] + (place - left) * (curve[left + 1] - curve[left])

    def _ph_at(self, curve: list[float], acid_mol: float) -> float:
        """The pH at so much acid from the top of the grid; the ends of the grid beyond it."""
        right = bisect_right(curve, acid_mol)
        if right in (0, len(curve)):
            return self._grid[min(right, len(curve) - 1)]
        share = (acid_mol - curve[right - 1]) / (curve[right] - curve[right - 1])
        return self._grid[right - 1] - share * STEP_PH
