"""A stream of lines that is joined midway, and that may stop midway."""

from collections.abc import Sequence

from monitor.protocol import ColumnSpec, LineDecoder, LineItem, Pack

# At 9600 baud the longest line takes 4.3 s, but its bytes come without a pause.
STALLED_AFTER_S = 2.0


class LineReader:
    """A LineDecoder that trusts no half line.

    Of the line that is under way when the stream is joined only a whole pack is kept: the rest of a row of bare
    numbers can look like a row. A line whose sender falls silent is cut, so that what it sends an hour later is
    not taken for the line's end.
    """

    def __init__(self, columns: Sequence[ColumnSpec] | None = None) -> None:
        self._columns = columns
        self._first: LineDecoder | None = LineDecoder()
        self._rest = LineDecoder(columns)
        self._midway = False
        self._last_byte_s = 0.0

    def feed(self, data: bytes, arrived: float, real_s: float) -> list[LineItem]:
        """Packs and bad lines that these bytes complete. arrived: cook time in Unix seconds; real_s: for pacing."""
        if not data:
            return []
        # Nobody may have asked meanwhile: a machine that slept midway through a line wakes up to another line's rest.
        items = self.stalled(arrived, real_s)
        self._last_byte_s = real_s
        self._midway = not data.endswith(b"\n")
        if self._first is not None:
            head, newline, data = data.partition(b"\n")
            items += [item for item in self._first.feed(head + newline, arrived) if isinstance(item, Pack)]
            if not newline:
                return items
            self._first = None
        return items + self._rest.feed(data, arrived)

    def stalled(self, arrived: float, real_s: float) -> list[LineItem]:
        """The line that has been under way for too long without a byte, as a bad line."""
        if not self._midway or real_s - self._last_byte_s < STALLED_AFTER_S:
            return []
        return self.cut(arrived)

    def cut(self, arrived: float) -> list[LineItem]:
        """The stream broke off; what comes next is joined midway again."""
        items = [] if self._first is not None else self._rest.cut(arrived)
        self._first = LineDecoder()
        self._midway = False
        return items
