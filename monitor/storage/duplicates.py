"""Recognises packs that arrive twice, and no new pack with the same content for one."""

import math
import sqlite3

from monitor.protocol import Pack
from monitor.storage.connections import begin
from monitor.storage.schema import DIGEST_INDEX

# A sender that received no answer sends the same pack again within this time.
REPEATED_WITHIN_S = 10.0
# The number of packs without a time that are remembered.
REMEMBERED_PACKS = 4096


class DuplicateFilter:
    """Tells whether a pack was stored before in the recording that this connection writes.

    A pack with a time of its own is compared with every stored one, however old. A pack without a time is a duplicate
    only where it follows its twin within ``REPEATED_WITHIN_S`` or its transport marks it as delivered again: a board
    that restarts counts from 0 again, and may well measure the same again.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        # Digest of a pack without a time -> its arrival, Unix seconds. The oldest come first and are forgotten first.
        self._arrivals: dict[int, float] = dict(
            connection.execute(
                "SELECT digest, known FROM pack WHERE digest IS NOT NULL AND id > "
                "(SELECT coalesce(max(id), 0) FROM pack) - ? ORDER BY id",
                (REMEMBERED_PACKS,),
            ).fetchall()
        )
        # The latest of the senders' own times: a pack with a later one is new without asking the file.
        latest = connection.execute("SELECT max(coalesce(said, measured)) FROM reading").fetchone()[0]
        self._latest_time = -math.inf if latest is None else float(latest)
        self._has_index = False

    def is_repeated(self, pack: Pack) -> bool:
        """Whether this pack was stored before; from now on it counts as stored. False for a pack without a digest."""
        digest = pack.digest
        if digest is None:
            return False
        senders_times = [r.time if r.sender_time is None else r.sender_time for r in pack.records if not r.relative]
        times = [time for time in senders_times if time is not None]
        if times:
            if max(times) > self._latest_time:
                self._latest_time = max(times)
                return False
            return self._is_stored(digest)
        before = self._arrivals.pop(digest, None)
        if before is None and pack.redelivered and self._is_stored(digest):
            return True
        if before is not None and (pack.redelivered or abs(pack.arrived - before) <= REPEATED_WITHIN_S):
            self._arrivals[digest] = before
            return True
        self._arrivals[digest] = pack.arrived
        if len(self._arrivals) > REMEMBERED_PACKS:
            del self._arrivals[next(iter(self._arrivals))]
        return False

    def _is_stored(self, digest: int) -> bool:
        if not self._has_index:
            begin(self._connection)
            self._connection.execute(DIGEST_INDEX.replace("INDEX", "INDEX IF NOT EXISTS", 1))
            self._has_index = True
        return self._connection.execute("SELECT 1 FROM pack WHERE digest = ? LIMIT 1", (digest,)).fetchone() is not None
