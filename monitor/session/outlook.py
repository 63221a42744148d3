"""The outlook: the estimate of a moment, what is wrong at that moment, and what waits because of it.

A stir and a check are pointless while the paste is cold and has no heat: they wait until it is hot again.

Never for good: the alarm that holds them back is itself told until a person answers it, and an answer holds them back
for half an hour at the most, because a probe that lies on the bench is cold too.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from monitor.alarms import ACKNOWLEDGED, COLD_C, SILENCE_S, UNACKNOWLEDGED, DueTimes, active_alarms, heat_wanted
from monitor.estimation import Estimate
from monitor.model import LOUDER, Alarm, History, Priority

COLD = "paste cold"
ANSWER_HOLDS_S = 1800.0


@dataclass(frozen=True, slots=True)
class Outlook:
    """What the monitor thinks of a cook at one moment.

    alarms: those that are active go before those that are over, and then the gravest first. danger: the gravest alarm
    that is active, was not shelved and is a danger, or None; it goes before all that is due. stir_due, check_due: Unix
    seconds, None where none is wanted or where it waits. reasons: one sentence each for ``stir`` and ``check``. waits:
    why neither is due although its time has come; empty where nothing waits.
    """

    estimate: Estimate
    alarms: tuple[Alarm, ...]
    danger: Alarm | None
    stir_due: float | None
    check_due: float | None
    reasons: Mapping[str, str]
    waits: str = ""

    @property
    def t(self) -> float:
        """The moment of the estimate, Unix seconds."""
        return self.estimate.t

    @property
    def elapsed_s(self) -> float | None:
        """Seconds since the cook's start; None before the start."""
        return self.estimate.elapsed_s

    def as_json(self) -> dict[str, object]:
        """The outlook as interfaces section 4 has it, ready for ``json.dumps``."""
        estimate = self.estimate
        return {
            "t": estimate.t,
            "elapsed_s": _rounded(estimate.elapsed_s, 1),
            "temperature_c": _rounded(estimate.temperature_c, 2),
            "equivalent_s": _rounded(estimate.equivalent_s, 1),
            "done": [round(x, 4) for x in estimate.done],
            "converted": [round(x, 4) for x in estimate.converted],
            "excess": None if estimate.excess is None else [round(x, 4) for x in estimate.excess],
            "stage": estimate.stage,
            "clear_at": [_rounded(x, 1) for x in estimate.clear_at],
            "chance_clear": round(estimate.chance_clear, 4),
            "stir_due": _rounded(self.stir_due, 1),
            "check_due": _rounded(self.check_due, 1),
            "reasons": dict(self.reasons),
            "conditions": [{"name": a.name, "state": a.state, "since": a.since} for a in self.alarms],
        }


def with_alarms(estimate: Estimate, alarms: tuple[Alarm, ...]) -> Outlook:
    """The outlook of an estimate and these alarms, given in the order of ``active_alarms``; nothing waits yet."""
    active = (alarm for alarm in alarms if alarm.until is None and alarm.in_sight)
    danger = next((alarm for alarm in active if alarm.priority is Priority.DANGER), None)
    return Outlook(estimate, alarms, danger, estimate.stir_due, estimate.check_due, estimate.reasons)


def with_conditions(estimate: Estimate, history: History, now: float, silence_s: float = SILENCE_S) -> Outlook:
    """The outlook with what is wrong at ``now``, which may be later than the estimate; see ``active_alarms``."""
    due = DueTimes(estimate.stir_due, estimate.check_due)
    return with_alarms(estimate, active_alarms(history, now, due, silence_s))


def waited(outlook: Outlook, history: History, now: float) -> Outlook:
    """The outlook with no stir and no check due where both wait, and the reason why. now: Unix seconds."""
    reason = _why_waiting(outlook, history, now)
    if not reason or (outlook.stir_due is None and outlook.check_due is None):
        return outlook
    alarms = tuple(alarm for alarm in outlook.alarms if alarm.name not in LOUDER.values())
    reasons = {"stir": reason, "check": reason}
    return replace(outlook, alarms=alarms, stir_due=None, check_due=None, reasons=reasons, waits=reason)


def _why_waiting(outlook: Outlook, history: History, now: float) -> str:
    if any(_holds_back(alarm, history, now) for alarm in outlook.alarms):
        return "Stirring and checking wait until the paste is hot again."
    temperature_c = outlook.estimate.temperature_c
    if temperature_c is not None and temperature_c < COLD_C and not heat_wanted(history, now):
        return "The heat is off and the paste is cold: stirring and checking wait until it is hot again."
    return ""


def _holds_back(alarm: Alarm, history: History, now: float) -> bool:
    if alarm.name != COLD or alarm.until is not None or alarm.state not in (UNACKNOWLEDGED, ACKNOWLEDGED):
        return False
    answers = [event for event in history.events_of("acknowledged") if event.fields.get("condition") == COLD]
    since = [event.measured for event in answers if alarm.since <= event.measured <= now]
    return not since or now - since[0] < ANSWER_HOLDS_S


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
