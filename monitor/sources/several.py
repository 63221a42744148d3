"""Several sources of one cook, such as a topic for each sensor, or a cable and a topic."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from monitor.protocol import Pack
from monitor.sources.source import Lost, Restored, Source, SourceItem

# A source waits for its own port or connection alone, so each is listened to for this long in turn, s.
TURN_S = 0.05


class SeveralSources:
    """Sources read as one. See Source; ``url`` is that of the first, and so is the count of packs, ``seq``.

    Restored is reported when all of those that were lost speak again.
    """

    def __init__(self, sources: Sequence[Source]) -> None:
        self._sources = tuple(sources)
        self.url = sources[0].url
        self.window = min(source.window for source in sources)
        self._lost: set[int] = set()
        self._turn = 0

    @property
    def port(self) -> str | None:
        """The first serial port that packs are heard from; see Source."""
        return next((source.port for source in self._sources if source.port is not None), None)

    def poll(self, timeout_s: float) -> list[SourceItem]:
        """What any of them heard within this many real seconds; see Source."""
        items = [item for number in range(len(self._sources)) for item in self._heard(number, 0.0)]
        while not items and timeout_s > 0.0:
            self._turn = (self._turn + 1) % len(self._sources)
            items = self._heard(self._turn, min(TURN_S, timeout_s))
            timeout_s -= TURN_S
        return items

    def _heard(self, number: int, timeout_s: float) -> list[SourceItem]:
        return [item for sent in self._sources[number].poll(timeout_s) for item in self._marked(number, sent)]

    def _marked(self, number: int, item: SourceItem) -> list[SourceItem]:
        if isinstance(item, Pack):
            # The rest of the division tells whose delivery it is.
            delivery = None if item.delivery is None else item.delivery * len(self._sources) + number
            # Two counts in one would look like packs that were lost.
            return [replace(item, delivery=delivery, seq=item.seq if number == 0 else None)]
        if isinstance(item, Lost):
            self._lost.add(number)
        elif isinstance(item, Restored):
            self._lost.discard(number)
            return [] if self._lost else [item]
        return [item]

    def stored(self, packs: Iterable[Pack]) -> None:
        """Tells each source which of its own packs are stored."""
        shares: dict[int, list[Pack]] = {}
        for pack in packs:
            if pack.delivery is not None:
                delivery, number = divmod(pack.delivery, len(self._sources))
                shares.setdefault(number, []).append(replace(pack, delivery=delivery))
        for number, share in shares.items():
            self._sources[number].stored(share)

    def close(self) -> None:
        """Closes them all."""
        for source in self._sources:
            source.close()
