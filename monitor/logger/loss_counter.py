"""Counts bad lines and packs that never arrived, and turns the counts into events."""

import uuid

from monitor.model import Event, make_event
from monitor.protocol import BadLine, Pack

# The same kind of loss is an event at most this often, in seconds of cook time.
EVENT_EVERY_S = 60.0
# A count that jumps further than this is a sender that counts anew.
LONGEST_GAP = 1_000_000


class LossCounter:
    """Counts losses; each kind becomes an event at most once a minute.

    last_seq: the sender's count in the last pack that was stored before, or None.
    """

    def __init__(self, last_seq: int | None = None) -> None:
        self._last_seq = last_seq
        self._latest_time = 0.0
        self._first_bad: BadLine | None = None
        self._bad_count = 0
        self._bad_reported_at: float | None = None
        self._lost_count = 0
        self._lost_reported_at: float | None = None

    def note_bad_line(self, line: BadLine) -> None:
        """Counts a bad line; the first of a minute is the one that the event shows."""
        self._bad_count += 1
        if self._first_bad is None:
            self._first_bad = line

    def note_pack(self, pack: Pack) -> None:
        """Counts the packs that are missing before this one, going by ``seq``.

        A count that starts at 0 or goes back is a sender that was restarted, and nothing is lost. A pack measured
        before the latest one is late, and was counted as missing before.
        """
        times = [record.time for record in pack.records if record.time is not None]
        measured = max(times, default=None)
        late = measured is not None and measured < self._latest_time
        self._latest_time = max(self._latest_time, measured or 0.0)
        if pack.seq is None:
            return
        if late:
            self._lost_count = max(0, self._lost_count - 1)
            return
        if self._last_seq is not None and 1 < pack.seq - self._last_seq <= LONGEST_GAP:
            self.note_lost(pack.seq - self._last_seq - 1)
        self._last_seq = pack.seq

    def note_lost(self, count: int) -> None:
        """Counts packs that are lost for good."""
        self._lost_count += count

    def events_due(self, now: float, *, at_end: bool = False) -> list[Event]:
        """The events that are to be recorded at ``now`` (Unix seconds); ``at_end`` all that is left."""
        events = []
        if self._first_bad is not None and (at_end or _is_due(self._bad_reported_at, now)):
            fields = {
                "reason": self._first_bad.why[:200],
                "bytes": self._first_bad.first_bytes[:400],
                "count": self._bad_count,
            }
            events.append(make_event(str(uuid.uuid4()), "bad line", now, now, fields, by_logger=True))
            self._first_bad, self._bad_count, self._bad_reported_at = None, 0, now
        if self._lost_count and (at_end or _is_due(self._lost_reported_at, now)):
            lost: dict[str, object] = {"count": self._lost_count}
            events.append(make_event(str(uuid.uuid4()), "packs lost", now, now, lost, by_logger=True))
            self._lost_count, self._lost_reported_at = 0, now
        return events


def _is_due(reported_at: float | None, now: float) -> bool:
    return reported_at is None or now - reported_at >= EVENT_EVERY_S
