"""Reads lines from a stream that is joined in the middle of a line, and that may stop in the middle of one."""

from monitor.protocol import LineDecoder, LineItem, Pack, PayloadLayout

# At 9600 baud the longest line takes 4.3 s, but its bytes come without a pause.
STALLED_AFTER_S = 2.0


class LineReader:
    """A LineDecoder that trusts no incomplete line.

    The first line is kept only where it is a whole pack: the end of a row of bare numbers can look like a row. A line
    whose sender stops for 2 s is cut, so that what it sends an hour later is not taken for the end of that line.
    """

    def __init__(self, layout: PayloadLayout | None = None) -> None:
        self._layout = layout
        self._first: LineDecoder | None = LineDecoder()
        self._rest = LineDecoder(layout)
        self._midway = False
        self._last_byte_s = 0.0

    def feed(self, data: bytes, arrived: float, real_s: float) -> list[LineItem]:
        """Packs and bad lines that these bytes complete. arrived: cook time in Unix seconds; real_s: for pacing."""
        if not data:
            return []
        # A machine that was suspended in the middle of a line wakes up to the end of another line.
        items = self.cut_stalled(arrived, real_s)
        self._last_byte_s = real_s
        self._midway = not data.endswith(b"\n")
        if self._first is not None:
            head, newline, data = data.partition(b"\n")
            items += [item for item in self._first.feed(head + newline, arrived) if isinstance(item, Pack)]
            if not newline:
                return items
            self._first = None
        return items + self._rest.feed(data, arrived)

    def cut_stalled(self, arrived: float, real_s: float) -> list[LineItem]:
        """The line of which no byte has come for 2 s, as a bad line. Arguments as for ``feed``."""
        if not self._midway or real_s - self._last_byte_s < STALLED_AFTER_S:
            return []
        return self.cut(arrived)

    def cut(self, arrived: float) -> list[LineItem]:
        """Ends the stream; the next bytes belong to a stream joined in the middle of a line."""
        items = [] if self._first is not None else self._rest.flush(arrived)
        self._first = LineDecoder()
        self._midway = False
        return items
