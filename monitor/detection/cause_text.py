"""What a person is told of a fall of temperature, by its cause: one table for alarm, question and ledger."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from monitor.detection.cooling import Cause


@dataclass(frozen=True, slots=True)
class Words:
    """alarm: how the alarm's sentence ends. open, over: what the phone asks while it lasts and when it is over.

    ledger: the line in the ledger; looks, advice: the sentence beside it, the first where nobody logged anything.
    """

    alarm: str
    open: str
    over: str
    ledger: str
    looks: str
    advice: str


_BACK = "put the lid back at once; an open paste loses its heat as steam"
_POWER = "look at the plug, the fuse and the setting, and wrap the cooker while the power is out"
WORDS: Mapping[Cause, Words] = MappingProxyType(
    {
        Cause.LID_OPEN: Words(
            "as if the lid is off: put it on.",
            "lid off",
            "lid off",
            "lid opening",
            "The curve looks as if the lid was off: ",
            f"{_BACK}.",
        ),
        Cause.HEAT_LOST: Words(
            "as if the heat is gone or turned down: look at the switch, the plug and the fuse.",
            "heat off",
            "power cut",
            "heat lost",
            "The curve looks as if the heat was gone or turned down: ",
            f"{_POWER}.",
        ),
        Cause.EITHER: Words(
            "as if the lid is off or the heat is gone: look at the lid, the switch and the plug.",
            "lid off or heat off",
            "lid off or power cut",
            "lid opening or heat lost",
            "The curve looks as if the lid was off, or the heat was gone or turned down: ",
            f"{_BACK}, or {_POWER}.",
        ),
    }
)
