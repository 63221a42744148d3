"""The texts about a fall of temperature by its cause: one table for the alarm, the suggestion and the time loss."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from monitor.detection.cooling import Cause


@dataclass(frozen=True, slots=True)
class CauseText:
    """The texts of one cause.

    alarm: end of the alarm's sentence. ongoing, past: the kind of the suggestion while the fall lasts and afterwards.
    loss: name of the loss; not_logged, advice: the sentence beside it, the former where nobody logged anything.
    """

    alarm: str
    ongoing: str
    past: str
    loss: str
    not_logged: str
    advice: str


_BACK = "put the lid back at once; an open paste loses its heat as steam"
_POWER = "look at the plug, the fuse and the setting, and wrap the cooker while the power is out"
CAUSE_TEXT: Mapping[Cause, CauseText] = MappingProxyType(
    {
        Cause.LID_OPEN: CauseText(
            "as if the lid is off: put it on.",
            "lid off",
            "lid off",
            "lid opening",
            "The curve looks as if the lid was off: ",
            f"{_BACK}.",
        ),
        Cause.HEAT_LOST: CauseText(
            "as if the heat is gone or turned down: look at the switch, the plug and the fuse.",
            "heat off",
            "power cut",
            "heat lost",
            "The curve looks as if the heat was gone or turned down: ",
            f"{_POWER}.",
        ),
        Cause.EITHER: CauseText(
            "as if the lid is off or the heat is gone: look at the lid, the switch and the plug.",
            "lid off or heat off",
            "lid off or power cut",
            "lid opening or heat lost",
            "The curve looks as if the lid was off, or the heat was gone or turned down: ",
            f"{_BACK}, or {_POWER}.",
        ),
    }
)
