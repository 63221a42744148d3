"""Whether this machine is fit to watch a cook: what is looked at, and what to do where it is not as it should be."""

from dataclasses import dataclass
from enum import Enum


class FindingState(Enum):
    """How it stands. The value is the word that a person reads."""

    WELL = "well"
    # Worth knowing; the cook goes on all the same.
    NOTE = "note"
    WRONG = "wrong"


@dataclass(frozen=True, slots=True)
class Finding:
    """What was found. about: one or two words. words: one sentence. do: one sentence, empty where nothing is."""

    about: str
    state: FindingState
    words: str
    do: str = ""

    def line(self) -> str:
        """The finding for a terminal.

        >>> Finding("disk", FindingState.WELL, "There is room.").line()
        'well   disk: There is room.'
        """
        return f"{self.state.value:6} {self.about}: {self.words}{f' {self.do}' if self.do else ''}"
