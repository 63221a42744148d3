"""Hours in which only dangers are notified, by the maker's own time of day."""

from dataclasses import dataclass
from datetime import UTC, datetime, time, tzinfo

from monitor.model import WAKING


@dataclass(frozen=True, slots=True)
class QuietHours:
    """From one time of day to another, past midnight too. zone: None for the machine's own.

    still_tell: the names that go out all the same.
    """

    begin: time
    end: time
    zone: tzinfo | None = None
    still_tell: tuple[str, ...] = WAKING

    def holds_back(self, name: str, wall: float) -> bool:
        """Whether a notification of this name waits at this moment of the wall clock, Unix seconds.

        The time that a clock on the wall shows counts: an hour that the change to summer time skips is not quiet, and
        the hour that the change from it repeats is quiet twice.

        >>> from zoneinfo import ZoneInfo
        >>> night = QuietHours(time(22), time(7), ZoneInfo("Europe/Berlin"))
        >>> night.holds_back("stir due", 1774735200.0), night.holds_back("near boil-over", 1774735200.0)
        (True, False)
        """
        if name in self.still_tell:
            return False
        moment = datetime.fromtimestamp(wall, UTC)
        shown = (moment.astimezone() if self.zone is None else moment.astimezone(self.zone)).time()
        if self.begin <= self.end:
            return self.begin <= shown < self.end
        return shown >= self.begin or shown < self.end
