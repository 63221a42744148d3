"""The wait before the first cook, or between a finished cook and the next one."""

from collections import deque
from dataclasses import dataclass, field
from pathlib import Path

from monitor.model import role, to_celsius
from monitor.protocol import Pack
from monitor.storage import is_running, recordings

# After a finished cook: below the first the pot has been emptied, above the second a new cook is on, degC.
COOLED_C = 40.0
WARM_AGAIN_C = 45.0
# Packs that come after the end are kept for this long, in case the end was logged by accident: seconds of cook time.
KEPT_S = 1800.0
MOST_KEPT_RECORDS = 20_000


@dataclass(slots=True)
class BetweenCooks:
    """last: the recording of the finished cook, or None before the first. before: the files that were there then.

    packs: those that came since, to be recorded should the end be taken back.
    """

    last: Path | None
    before: frozenset[Path]
    packs: deque[Pack] = field(default_factory=deque)
    _records: int = 0
    _has_cooled: bool = False

    @classmethod
    def begin(cls, last: Path | None, folder: Path) -> "BetweenCooks":
        """The wait that begins now. Raises RecordingError."""
        return cls(last, frozenset(recordings(folder)))

    def keep(self, pack: Pack) -> None:
        """Keeps a pack and drops those that are too old or too many."""
        self.packs.append(pack)
        self._records += len(pack.records) + 1
        while self._records > MOST_KEPT_RECORDS or self.packs[0].arrived < pack.arrived - KEPT_S:
            self._records -= len(self.packs.popleft().records) + 1

    def begins_cook(self, pack: Pack) -> bool:
        """Whether a new cook begins with this pack: any pack before the first cook, later a paste warm again."""
        if self.last is None:
            return True
        for record in pack.records:
            celsius = to_celsius(record.value, record.unit) if record.value is not None else None
            if role(record.channel) == "paste" and celsius is not None:
                self._has_cooled = self._has_cooled or celsius < COOLED_C
                if self._has_cooled and celsius > WARM_AGAIN_C:
                    return True
        return False

    def find_cook(self, folder: Path, rig: str) -> Path | None:
        """A running cook of the rig: one begun by a person meanwhile, or the last one, whose end was taken back.

        Raises RecordingError where the folder cannot be read.
        """
        for path in recordings(folder):
            if (path == self.last or path not in self.before) and is_running(path, rig):
                return path
        return None
