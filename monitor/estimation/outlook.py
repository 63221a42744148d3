"""What the monitor thinks at one moment: the shape of the answer (interfaces, section 4)."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TypeAlias

from monitor.model import Alarm, Priority

Spread: TypeAlias = tuple[float, float, float]
OpenSpread: TypeAlias = tuple[float | None, float | None, float | None]


@dataclass(frozen=True, slots=True)
class TemperatureForecast:
    """The paste temperature that is expected: times (Unix seconds) and degC at the 10, 50 and 90 % points.

    All four have the same length, which is 0 where nothing can be expected.
    """

    times: tuple[float, ...] = ()
    low_c: tuple[float, ...] = ()
    middle_c: tuple[float, ...] = ()
    high_c: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Outlook:
    """The estimate at ``t``. Times are Unix seconds; a triple is the 10, 50 and 90 % points.

    elapsed_s, temperature_c and equivalent_s are None before the cook has started or where nothing is known.
    clear_at is None in all places when the paste is too cold to finish within 24 h, or nothing has started.
    conditions: the alarms, standing ones before those that are over, and then the gravest first. waits: why neither a
    stir nor a check is due although its time has come; empty where nothing waits.
    """

    t: float
    elapsed_s: float | None
    temperature_c: float | None
    equivalent_s: float | None
    converted: Spread
    clear_at: OpenSpread
    chance_clear: float
    stir_due: float | None
    check_due: float | None
    reasons: Mapping[str, str]
    conditions: tuple[Alarm, ...] = ()
    ahead: TemperatureForecast = field(default_factory=TemperatureForecast)
    waits: str = ""

    @property
    def danger(self) -> Alarm | None:
        """The gravest danger that stands and was not put aside: it goes before all that is due."""
        standing = (one for one in self.conditions if one.until is None and one.in_sight)
        return next((one for one in standing if one.priority is Priority.DANGER), None)

    def as_json(self) -> dict[str, object]:
        """The outlook as interfaces section 4 has it, ready for ``json.dumps``."""
        return {
            "t": self.t,
            "elapsed_s": _rounded(self.elapsed_s, 1),
            "temperature_c": _rounded(self.temperature_c, 2),
            "equivalent_s": _rounded(self.equivalent_s, 1),
            "converted": [round(x, 4) for x in self.converted],
            "clear_at": [_rounded(x, 1) for x in self.clear_at],
            "chance_clear": round(self.chance_clear, 4),
            "stir_due": _rounded(self.stir_due, 1),
            "check_due": _rounded(self.check_due, 1),
            "reasons": dict(self.reasons),
            "conditions": [{"name": c.name, "state": c.state, "since": c.since} for c in self.conditions],
        }


NOTHING_YET: Mapping[str, str] = MappingProxyType(
    {"stir": "Nothing has started: log the lid when it goes on.", "check": "Nothing has started yet."}
)


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
