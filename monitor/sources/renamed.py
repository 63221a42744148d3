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

    @property
    def port(self) -> str | None:
        """The port of the source itself."""
        return self._source.port

    def poll(self, timeout_s: float) -> list[SourceItem]:
        """What was heard, by its new names."""
        items = self._source.poll(timeout_s)
        return [renamed(item, self._renamings) if isinstance(item, Pack) else item for item in items]

    def stored(self, packs: Iterable[Pack]) -> None:
        """Passes on what is stored; a source knows its packs by their delivery, which a new name leaves as it is."""
        self._source.stored(packs)

    def close(self) -> None:
        """Closes the source."""
        self._source.close()
