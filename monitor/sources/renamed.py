"""A source whose channels are renamed at its door, before anything is recorded or said of them."""

from collections.abc import Iterable, Sequence

from monitor.protocol import Pack, Renaming, renamed
from monitor.sources.source import Source, SourceItem


class RenamedSource:
    """Another source, with the names and units that a person gave. See Source."""

    def __init__(self, source: Source, renamings: Sequence[Renaming]) -> None:
        self.url = source.url
        self.window = source.window
        self._source = source
        self._renamings = renamings
        # By the identity of what was passed on: a source knows what it sent by its own packs.
        self._waiting: dict[int, tuple[Pack, Pack]] = {}

    @property
    def port(self) -> str | None:
        """The port of the source itself."""
        return self._source.port

    def poll(self, timeout_s: float) -> list[SourceItem]:
        """What was heard, by its new names."""
        return [self._renamed(item) if isinstance(item, Pack) else item for item in self._source.poll(timeout_s)]

    def _renamed(self, sent: Pack) -> Pack:
        pack = renamed(sent, self._renamings)
        if pack is not sent:
            self._waiting[id(pack)] = pack, sent
        return pack

    def stored(self, packs: Iterable[Pack]) -> None:
        """Tells the source itself."""
        self._source.stored([self._waiting.pop(id(pack), (pack, pack))[1] for pack in packs])

    def close(self) -> None:
        """Lets go of the source."""
        self._source.close()
