"""Power loss, approximated: the two files of a running cook as they lie at one instant, and torn."""

import os
import random
import signal
import sqlite3
from contextlib import closing
from pathlib import Path

# SQLite file format, sections 4.1 and 4.3: the sizes of the WAL's header and of a frame's, and where the WAL-index
# says how many frames are in the database file already (after two copies of its 48-byte header).
_WAL_HEADER, _FRAME_HEADER, _PAGE = 32, 24, 4096
_BACKFILLED_AT = 96


def copied(path: Path, pid: int, copy: Path, chance: random.Random | None) -> None:
    """Copies database and WAL while the logger stands still, so that both are of the same instant.

    chance: tears the WAL's copy behind the frames that SQLite had made safe before it began to fold them in: cuts it
    off at a random byte and, half of the time, puts noise where the rest was. None leaves it whole.
    """
    os.kill(pid, signal.SIGSTOP)
    try:
        base, wal, index = (path.with_name(path.name + end).read_bytes() for end in ("", "-wal", "-shm"))
    finally:
        os.kill(pid, signal.SIGCONT)
    if chance is not None:
        backfilled = int.from_bytes(index[_BACKFILLED_AT : _BACKFILLED_AT + 4], "little")
        safe = min(len(wal), _WAL_HEADER + backfilled * (_FRAME_HEADER + _PAGE))
        cut = chance.randint(safe, len(wal))
        wal = wal[:cut] + (chance.randbytes(len(wal) - cut) if chance.random() < 0.5 else b"")
    copy.write_bytes(base)
    copy.with_name(copy.name + "-wal").write_bytes(wal)


def seqs_of_sound_copy(copy: Path) -> list[int]:
    """Opens a copy as the next start would, checks it, and gives the packs' numbers in order."""
    with closing(sqlite3.connect(copy)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert connection.execute("PRAGMA foreign_key_check").fetchone() is None
        return [row[0] for row in connection.execute("SELECT seq FROM pack ORDER BY id")]
