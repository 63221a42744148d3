"""What the model infers about a cook at one moment, without anything about alarms."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TypeAlias

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
class ClearDensity:
    """How likely each stretch of time is to be the one in which the paste comes clear.

    edges: Unix seconds, five minutes apart, n + 1 of them. probability: of each stretch, n of them; what their sum
    lacks to 1 lies outside. Both are empty where nothing is expected any more, or not yet.
    """

    edges: tuple[float, ...] = ()
    probability: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Estimate:
    """The state of a cook inferred for ``t``. Times are Unix seconds; a triple is the 10, 50 and 90 % points.

    elapsed_s, temperature_c (degC) and equivalent_s are None before the cook has started or where nothing is known.
    converted: fraction of the fat that has become soap. clear_at is None in all places when the paste is too cold to
    finish within 24 h, or nothing has started. chance_clear: probability that a check made at ``t`` reads clear.
    reasons: one sentence each for ``stir`` and ``check``. ahead: the expected temperature after ``t``. done: share of
    this paste's need that has passed, 0 to 1. excess: the true excess of the alkali, as a fraction of the need; None
    where nothing is known. stage: how the paste most likely looks, one of ``model.PASTE_STAGES`` or "clear"; empty
    before the start. clear_density: the distribution that ``clear_at`` is read from; empty once the paste read clear or
    the cook is finished.
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
    ahead: TemperatureForecast = field(default_factory=TemperatureForecast)
    done: Spread = (0.0, 0.0, 0.0)
    excess: Spread | None = None
    stage: str = ""
    clear_density: ClearDensity = field(default_factory=ClearDensity)


NOTHING_YET: Mapping[str, str] = MappingProxyType(
    {"stir": "Nothing has started: log the lid when it goes on.", "check": "Nothing has started yet."}
)
