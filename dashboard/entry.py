"""What a phone says of an entry: its id, made before the first try, and how long ago it was tapped.

A phone keeps an entry until it has an answer and sends it again meanwhile, so the same entry may arrive many times, and
late. Its own clock is not asked, for it may be wrong: it tells the age of the tap in seconds.
"""

from collections.abc import Mapping

from dashboard.answers import AskedError
from monitor.session import Cook

# What cannot have happened any more once a cook is finished. A check and a note can.
OF_A_RUNNING_COOK = (
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


def id_of(asked: Mapping[str, object]) -> str | None:
    """The id that the phone made, or None. Raises AskedError for anything but text."""
    uid = asked.get("id")
    if uid is None or isinstance(uid, str):
        return uid
    raise AskedError("id must be text.")


def ids_of_two(asked: Mapping[str, object]) -> tuple[str, ...]:
    """Ids for an entry that may be two events; none where the phone made none."""
    uid = id_of(asked)
    return () if uid is None else (uid, f"{uid}-2")


def moment_of(asked: Mapping[str, object], cook: Cook, kind: str) -> float | None:
    """When that was, Unix seconds by the cook's clock; None for now.

    Told by ``age_s`` (real seconds since the tap) or ``at`` (Unix seconds). Raises AskedError for an age below nought,
    and for a deed of a running cook that was tapped after the cook's end.
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
    return None


def number(value: object, name: str) -> float:
    """A number that a script sent as such or as text. Raises AskedError, naming it."""
    if isinstance(value, str | int | float) and not isinstance(value, bool):
        try:
            found = float(value)
        except (ValueError, OverflowError):
            found = float("nan")
        if abs(found) < 1e11:
            return found
    raise AskedError(f"{name} must be a number.")
