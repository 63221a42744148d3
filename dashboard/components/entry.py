"""The identity and the time of an entry from a phone: its id, made before the first try, and the age of the tap.

A phone keeps an entry and sends it again until it has an answer, so the same entry may arrive many times, and late. The
phone's clock may be wrong, so it sends how many seconds ago the tap was.
"""

from collections.abc import Callable, Mapping
from threading import Lock

from dashboard.components.answers import AskedError
from monitor.model import AFTER_COOK
from monitor.session import Cook

# Kinds of event that cannot happen after the end of a cook. A check and a note can.
OF_A_RUNNING_COOK = (
    "oils melted",
    "lye cooled",
    "lye in",
    "thick trace",
    "lid on",
    "lid off",
    "stirred",
    "heat",
    "heat off",
    "costs set",
    "finished",
)

MOST_REMEMBERED = 64


class Once:
    """What a tap made, by the id of its request: a tap whose answer got lost is sent again, and makes it once."""

    def __init__(self) -> None:
        self._made: dict[str, dict[str, object]] = {}
        self._lock = Lock()

    def made(self, asked: Mapping[str, object], make: Callable[[], dict[str, object]]) -> dict[str, object]:
        """The answer of the first request with this id, which ``make`` makes.

        Raises AskedError, and what ``make`` raises.
        """
        uid = id_of(asked)
        with self._lock:
            if uid is None or uid not in self._made:
                answer = make()
                while len(self._made) >= MOST_REMEMBERED:
                    del self._made[next(iter(self._made))]
                if uid is None:
                    return answer
                self._made[uid] = answer
            return self._made[uid]


def text_of(asked: Mapping[str, object], name: str) -> str:
    """What was sent under this name, empty where nothing was. Raises AskedError where it is not text."""
    value = asked.get(name, "")
    if not isinstance(value, str):
        raise AskedError(f"{name} must be text.")
    return value


def id_of(asked: Mapping[str, object]) -> str | None:
    """The id that the phone made, or None. Raises AskedError where it is not text."""
    uid = asked.get("id")
    if uid is None or isinstance(uid, str):
        return uid
    raise AskedError("id must be text.")


def ids_of_two(asked: Mapping[str, object]) -> tuple[str, ...]:
    """The ids of an entry that may be two events; empty where the phone made none."""
    uid = id_of(asked)
    return () if uid is None else (uid, f"{uid}-2")


def moment_of(asked: Mapping[str, object], cook: Cook, kind: str) -> float | None:
    """When the entry's event happened, Unix seconds by the cook's clock; None for now.

    It is given by ``age_s`` (real seconds since the tap) or ``at`` (Unix seconds). Raises AskedError for a negative
    age, and for an event of ``OF_A_RUNNING_COOK`` that was tapped after the cook's end.
    """
    if (age_s := asked.get("age_s")) is None:
        at = asked.get("at")
        return None if at is None else number(at, "at")
    real_s = number(age_s, "age_s")
    if real_s < 0:
        raise AskedError("age_s must not be below nought.")
    moment, ended = cook.ago(real_s), cook.finished()
    if ended is None or moment <= ended:
        return moment
    if kind in OF_A_RUNNING_COOK:
        raise AskedError("The cook had been finished before that.")
    return moment if kind in AFTER_COOK else None


def number(value: object, name: str) -> float:
    """A number that a script sent as a number or as text. Raises AskedError with its name."""
    if isinstance(value, str | int | float) and not isinstance(value, bool):
        try:
            found = float(value)
        except (ValueError, OverflowError):
            found = float("nan")
        if abs(found) < 1e11:
            return found
    raise AskedError(f"{name} must be a number.")
