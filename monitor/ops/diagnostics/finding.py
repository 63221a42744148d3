"""One result of a check: what was looked at, its state, and what to do about it."""

from dataclasses import dataclass
from enum import Enum


class FindingState(Enum):
    """How serious a finding is. The value is the word that a person reads."""

    WELL = "well"
    # Worth knowing; the cook goes on all the same.
    NOTE = "note"
    WRONG = "wrong"


@dataclass(frozen=True, slots=True)
class Finding:
    """One result. subject: one or two words. text, advice: one sentence each; no advice where nothing need be done."""

    subject: str
    state: FindingState
    text: str
    advice: str = ""

    def line(self) -> str:
        """The finding for a terminal.

        >>> Finding("disk", FindingState.WELL, "There is room.").line()
        'well   disk: There is room.'
        """
        return f"{self.state.value:6} {self.subject}: {self.text}{f' {self.advice}' if self.advice else ''}"
