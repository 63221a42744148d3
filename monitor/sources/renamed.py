"""A source whose channels are renamed before anything is recorded or reported of them."""

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
        # id() of a renamed pack -> that pack and the original, because the source recognises only its own packs.
        self._unstored: dict[int, tuple[Pack, Pack]] = {}

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
            self._unstored[id(pack)] = pack, sent
        return pack

    def stored(self, packs: Iterable[Pack]) -> None:
        """Passes on to the source which of its own packs are stored."""
        self._source.stored([self._unstored.pop(id(pack), (pack, pack))[1] for pack in packs])

    def close(self) -> None:
        """Closes the source."""
        self._source.close()
