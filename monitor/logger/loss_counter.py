"""What the logger counts: bad lines and packs that never came."""

import uuid

from monitor.model import Event, make_event
from monitor.protocol import BadLine, Pack

# The same trouble is an event at most this often, in seconds of cook time.
EVENT_EVERY_S = 60.0
# A count that leaps further than this is a sender that counts anew.
LONGEST_GAP = 1_000_000


class LossCounter:
    """Counts, and turns counts into events at most once a minute.

    last_seq: the sender's count in the last pack stored before, if any.
    """

    def __init__(self, last_seq: int | None = None) -> None:
        self.bad_lines = 0
        self.lost_packs = 0
        self._last_seq = last_seq
        self._latest = 0.0
        self._bad: BadLine | None = None
        self._bad_waiting = 0
        self._bad_told: float | None = None
        self._lost_waiting = 0
        self._lost_told: float | None = None

    def note_bad(self, line: BadLine) -> None:
        """Counts a bad line; the first of a minute is the one that is shown."""
        self.bad_lines += 1
        self._bad_waiting += 1
        if self._bad is None:
            self._bad = line

    def note_pack(self, pack: Pack) -> None:
        """Counts the packs that are missing before this one, going by ``seq``.

        A count that starts at 0 or goes back is a sender that was started anew, and nothing is lost. A pack that
        says it was measured before the latest one is late, and was counted as missing before.
        """
        times = [record.time for record in pack.records if record.time is not None]
        measured = max(times, default=None)
        late = measured is not None and measured < self._latest
        self._latest = max(self._latest, measured or 0.0)
        if pack.seq is None:
            return
        if late:
            self._lost_waiting = max(0, self._lost_waiting - 1)
            return
        if self._last_seq is not None and 1 < pack.seq - self._last_seq <= LONGEST_GAP:
            self.note_lost(pack.seq - self._last_seq - 1)
        self._last_seq = pack.seq

    def note_lost(self, count: int) -> None:
        """Counts packs that are lost for good."""
        self.lost_packs += count
        self._lost_waiting += count

    def events_due(self, now: float, *, at_end: bool = False) -> list[Event]:
        """The events that are to be recorded at ``now`` (Unix seconds); ``at_end`` all that is left."""
        events = []
        if self._bad is not None and (at_end or _may_tell(self._bad_told, now)):
            fields = {"reason": self._bad.why[:200], "bytes": self._bad.first_bytes[:400], "count": self._bad_waiting}
            events.append(make_event(str(uuid.uuid4()), "bad line", now, now, fields, by_logger=True))
            self._bad, self._bad_waiting, self._bad_told = None, 0, now
        if self._lost_waiting and (at_end or _may_tell(self._lost_told, now)):
            lost: dict[str, object] = {"count": self._lost_waiting}
            events.append(make_event(str(uuid.uuid4()), "packs lost", now, now, lost, by_logger=True))
            self._lost_waiting, self._lost_told = 0, now
        return events


def _may_tell(told: float | None, now: float) -> bool:
    return told is None or now - told >= EVENT_EVERY_S
