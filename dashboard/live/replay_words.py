"""What was said at a moment of a cook, beside what came of it."""

from collections.abc import Mapping, Sequence
from typing import Any

from dashboard.components.viewer import clock
from dashboard.live.cook_state import SHELVED


def said_then(known: Mapping[str, Any], came: Mapping[str, Any]) -> dict[str, str]:
    """What was said at a moment, beside what came of it: what each place of the page is to say; nothing hides its row.

    known: of ``replay.known_at``; came: of ``replay.what_came``.
    """
    over = known["stage"] in ("finished", "clear")
    stir, check, time = known["stir_due"], known["check_due"], known["time"]
    stirred = next((moment for moment in came["stirs"] if moment > time), None)
    checked, result = next(((moment, read) for moment, read in came["checks"] if moment > time), (None, ""))
    wrong = [str(one[0]) for one in known["alarms"] if one[2] != SHELVED]
    return {
        "glance": _at_a_glance(known),
        "wrong-then": f"Wrong then: {' '.join(wrong)}" if wrong else "",
        "clear-said": "Nothing more to say" if over else _spread(known["clear_at"]),
        "clear-came": _came_clear(known["clear_at"], came),
        "stir-said": "" if stir is None else clock(stir),
        "stir-came": "" if stir is None else _done("Stirred", stirred, came),
        "check-said": "" if check is None else clock(check),
        "check-came": "" if check is None else _done("Checked", checked, came, result),
    }


def _at_a_glance(known: Mapping[str, Any]) -> str:
    told = []
    if known["done"] is not None:
        low, middle, high = (f"{share / 10:.0f}" for share in known["done"])
        told.append(f"{middle} % done" + ("" if low == high else f", likely {low} to {high}"))
    elif known["converted"] is None:
        told.append("Not started")
    if known["chance_clear"] is not None and known["stage"] not in ("finished", "clear"):
        told.append(f"a check reads clear: {known['chance_clear']} in 100")
    tenths = known["paste_tenths_c"]
    told.append("no reading of the paste" if tenths is None else f"paste {tenths / 10:.1f} °C")
    words = "; ".join(told)
    return f"{words[:1].upper()}{words[1:]}."


def _spread(points: Sequence[float | None]) -> str:
    low, middle, high = points
    if middle is None or low is None:
        return "Nothing yet"
    until = f"{clock(low)} to {clock(high)}" if high is not None else f"from {clock(low)}"
    return f"{clock(middle)}, likely {until}"


def _came_clear(said: Sequence[float | None], came: Mapping[str, Any]) -> str:
    between = came["came_clear"]
    if between is None:
        return "No check read clear." if came["over"] else "No check has read clear yet."
    not_yet, clear = between
    was = f"Clear at {clock(clear)}" + ("" if not_yet is None else f", not yet at {clock(not_yet)}")
    low, middle, high = said
    if middle is None or low is None:
        return f"{was}."
    if low > clear:
        return f"{was}: it was too late."
    if high is not None and not_yet is not None and high < not_yet:
        return f"{was}: it was too early."
    return f"{was}: it came true."


def _done(deed: str, moment: float | None, came: Mapping[str, Any], result: str = "") -> str:
    if moment is None:
        return "Never again." if came["over"] else "Not yet."
    return f"{deed} at {clock(moment)}{f': {result}' if result else ''}."
