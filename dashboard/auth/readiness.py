"""What is still to be done before a first cook: six rows, each ticked by what the recordings and the phones show."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from dashboard.auth.access_list import AccessGrant
from monitor.alarms import SILENCE_S, is_fresh
from monitor.calibration import latest_values
from monitor.model import role, span
from monitor.session import Cook

PASTE = "paste"


@dataclass(frozen=True, slots=True)
class Item:
    """One row. name: by which the page knows it. words: what is to be done. found: what is so. to: where it is done."""

    name: str
    words: str
    done: bool
    found: str
    to: str


# Name -> what is to be done; in the order in which a person goes.
ITEMS: Mapping[str, str] = {
    "heard": "Probe heard",
    "checked": "Probe checked in ice and boiling water",
    "sheet": "Batch sheet there",
    "paired": "Phone paired",
    "sound": "Sound tried",
    "notice": "A notice received",
}


def items(
    cook: Cook | None, grants: Sequence[AccessGrant], ticked: Mapping[str, float], *, hides_owners: bool
) -> list[Item]:
    """The rows. cook: the one that runs, no invented one; None where there is none. grants: those that are valid.

    ticked: when a person said so, Unix seconds. hides_owners: for a view-only phone, which learns of no other.
    """
    found = {
        "heard": _heard(cook),
        "checked": _checked(cook),
        "sheet": _sheet(cook),
        "paired": _paired(grants, hides_owners),
        "sound": ("sound" in ticked, "Somebody heard it." if "sound" in ticked else "Try it here.", "#sound-here"),
        "notice": _notice(cook, ticked, hides_owners),
    }
    return [Item(name, ITEMS[name], *row) for name, row in found.items()]


def _heard(cook: Cook | None) -> tuple[bool, str, str]:
    if cook is None:
        return False, "Begins with a cook: start one on Now.", "/"
    to = f"/probes/{cook.name}"
    series = cook.history().series
    spoken = {name: float(one.measured[-1]) for name, one in series.items() if len(one)}
    if not spoken:
        return False, "Nothing has come yet: look at plug and cable.", to
    # The paste before any other, and of those that are alike the one that spoke last.
    name = max(spoken, key=lambda one: (role(one) == PASTE, spoken[one]))
    now = cook.now()
    if not is_fresh(series[name], now, SILENCE_S * cook.rate):
        return False, f"{name}: silent for {span(now - spoken[name])}.", to
    return bool(np.isfinite(series[name].value[-1])), f"{name}: {latest_values(cook)[name][1]}", to


def _checked(cook: Cook | None) -> tuple[bool, str, str]:
    if cook is None:
        return False, "Wants a probe that is heard.", "/"
    check = cook.calibration_log.facts().field_check(cook.rig, PASTE, cook.now())
    to = f"/probes/{cook.name}/baths"
    return check is not None, "In the log of calibrations." if check else "Five minutes, a glass of ice, a kettle.", to


def _sheet(cook: Cook | None) -> tuple[bool, str, str]:
    batch = None if cook is None else cook.history().batch
    if batch is None or cook is None:
        return False, "Oils, alkali and water, by Charge.", "/bench/charge" + (f"?cook={cook.name}" if cook else "")
    return True, cook.title(), f"/record/{cook.name}"


def _paired(grants: Sequence[AccessGrant], hides_owners: bool) -> tuple[bool, str, str]:
    if hides_owners:
        return True, "By those who may log.", ""
    count = sum(not grant.view_only for grant in grants)
    return count > 0, f"{count} may look and log." if count else "Nobody yet.", "/phones"


def _notice(cook: Cook | None, ticked: Mapping[str, float], hides_owners: bool) -> tuple[bool, str, str]:
    seen = cook is not None and bool(cook.history().events_of("acknowledged"))
    words = "Seen was tapped." if seen else "Somebody said that it came." if "notice" in ticked else "Add a service."
    return seen or "notice" in ticked, words, "" if hides_owners else "/set-up/push"
