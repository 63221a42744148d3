"""The one query surface: the cooks of a folder, and one cook as of any moment."""

from collections.abc import Callable
from pathlib import Path

from monitor.alarms import running_timers
from monitor.analysis import (
    StatedInterval,
)
from monitor.runtime import Anchor, Clock, SystemClock
from monitor.session.batch_standing import is_in_hand
from monitor.session.finished import teaching_cooks
from monitor.session.live_cook import LiveCook
from monitor.session.review import interval_coverage
from monitor.session.search import matches
from monitor.storage import (
    SUFFIX,
    CookSummary,
    FolderAwayError,
    Recorder,
    RecordingError,
    TrashedCook,
    WatchedFolder,
    purge,
    recordings,
    remove,
    restore,
    summary,
    trashed,
    under_way,
    unfinished,
)

# Kept in memory, where a long cook takes some 3 MB; any other is read again when wanted. Of those that are over a
# household looks at one or two at a time.
MOST_OVER_OPEN = 2
MOST_OPEN = 12
# A phone asks every second or two; the file of a cook that none asks of is closed, for its logger to finish.
LET_GO_S = 3.0


class CookLibrary:
    """The cooks of one folder."""

    def __init__(
        self, folder: Path, clock_for: Callable[[Anchor], Clock] = SystemClock, *, keeps_open: bool = False
    ) -> None:
        """keeps_open: whether the files of running cooks stay open between looks; then ``let_go`` is called often."""
        self.folder = folder
        self._clock_for = clock_for
        self._keeps_open = keeps_open
        self._open: dict[Path, LiveCook] = {}
        self._place = WatchedFolder(folder)
        self._under_way: dict[str, Path] = {}
        self._summaries: dict[Path, CookSummary] = {}

    def cooks(self) -> list[CookSummary | RecordingError]:
        """Every cook, the latest first; a file that cannot be read stands as its error.

        Raises FolderAwayError.
        """
        found: list[CookSummary | RecordingError] = []
        for path in recordings(self.folder):
            try:
                found.append(summary(path))
            except RecordingError as error:
                found.append(error)
        if not found:
            self._check_place()
        return found

    def _check_place(self, name: str | None = None) -> None:
        """Raises FolderAwayError where the folder is not the one that was here."""
        names: list[str | None] = [path.name for path in self._under_way.values()]
        names = names or [name]
        if any(self._place.is_away(one) for one in names):
            raise FolderAwayError(self.folder / (name or ""))

    def found(self, words: str) -> list[CookSummary | RecordingError]:
        """The cooks that have all of these words, the latest first; every one, and what cannot be read, for none."""
        asked = words.split()
        every = self.cooks()
        return [one for one in every if not asked or (isinstance(one, CookSummary) and matches(one, asked))]

    def teaching(self) -> list[CookSummary]:
        """The ended cooks that the kitchen learns from, the latest first: all but invented ones."""
        return list(teaching_cooks(self.folder))

    def interval_coverage(self, most: int | None = None) -> list[tuple[Path, StatedInterval]]:
        """What was said along the latest ``most`` ended cooks, held against their checks."""
        return interval_coverage(self.folder, most=most)

    def remove(self, name: str, now: float) -> TrashedCook:
        """Takes an ended cook out of the folder, to be put back within a day. now: Unix seconds.

        Raises RecordingError.
        """
        gone = remove(self.cook(name).path, now)
        self._open.pop(self.folder / f"{name}{SUFFIX}", None)
        return gone

    def removed(self, now: float) -> list[TrashedCook]:
        """What was removed within the last day, the latest first; what is older is deleted for good."""
        purge(self.folder, now)
        return trashed(self.folder)

    def restore(self, name: str) -> None:
        """Undoes the removal of this cook. Raises RecordingError."""
        restore(self.folder, name)

    def under_way(self) -> dict[str, Path]:
        """The cook under way of each rig that has one; while the folder is away, those of before."""
        found = under_way(self.folder)
        kept = {
            rig: path for rig, path in self._under_way.items() if rig not in found and self._place.is_away(path.name)
        }
        if found and not kept:
            self._place.accept_current()
        self._under_way = {**kept, **found}
        return self._under_way

    def running(self, rig: str | None = None) -> LiveCook | None:
        """The cook that is under way, or None."""
        found = self.under_way()
        path = found.get(rig) if rig is not None else next(iter(found.values()), None)
        return self.cook(path.stem) if path else None

    def running_summaries(self) -> list[CookSummary]:
        """Of each rig's cook that is under way, the one that began last first."""
        found: dict[Path, CookSummary] = {}
        for path in self.under_way().values():
            try:
                found[path] = summary(path)
            except RecordingError:
                if path not in self._summaries:
                    raise
                # Its folder is away.
                found[path] = self._summaries[path]
        self._summaries = found
        return sorted(found.values(), key=lambda one: one.about.started, reverse=True)

    def now(self) -> float:
        """The time of a cook that is no faster than life, Unix seconds."""
        return self._clock_for(SystemClock().anchor()).now()

    def in_hand(self) -> list[CookSummary]:
        """The batches whose cook is over and that are on their way to their bottles, the latest first.

        Raises FolderAwayError.
        """
        now = self.now()
        every = [one for one in self.cooks() if isinstance(one, CookSummary)]
        return [one for one in every if one.finished is not None and is_in_hand(one.events, now)]

    def timed(self, rig: str | None = None) -> list[CookSummary]:
        """The batches whose cook is over and whose timers run or ring. Raises FolderAwayError."""
        now = self.now()
        return [
            one
            for one in self.cooks()
            if isinstance(one, CookSummary)
            and one.finished is not None
            and rig in (None, one.about.rig)
            # A cook faster than life has a clock of its own, which is ahead.
            and running_timers(one.events, max([now, *(event.measured for event in one.events)]))
        ]

    def left_unfinished(self, rig: str) -> list[Path]:
        """What nobody has finished on this rig and is not under way, what was heard of last first."""
        running = self._under_way.get(rig)
        return [path for path in unfinished(self.folder).get(rig, ()) if path != running]

    def cook(self, name: str) -> LiveCook:
        """The cook of this name, kept open in memory. Raises RecordingError when there is none."""
        path = self.folder / f"{name}{SUFFIX}"
        # A name from an address must not lead out of the folder.
        if path.name != f"{name}{SUFFIX}" or path.parent != self.folder:
            raise RecordingError(Path(path.name), "there is no such file")
        # A dict keeps its order, so the first is the one that was not wanted for longest.
        cook = self._open.pop(path, None)
        if cook is None:
            self._make_room()
            try:
                cook = LiveCook(path, self._clock_for, keeps_open=self._keeps_open)
            except RecordingError:
                self._check_place(path.name)
                raise
        self._open[path] = cook
        return cook

    def _make_room(self) -> None:
        over = [path for path, cook in self._open.items() if _is_over(cook)]
        for path in over[: max(0, len(over) - MOST_OVER_OPEN + 1)]:
            self._open.pop(path).let_go()
        while len(self._open) >= MOST_OPEN:
            self._open.pop(next(iter(self._open))).let_go()

    def let_go(self) -> None:
        """Closes the files that were kept open and that nobody looks at any more."""
        for cook in self._open.values():
            cook.let_go(LET_GO_S)

    def is_open(self, cook: LiveCook) -> bool:
        """Whether this very cook is kept in memory."""
        return self._open.get(cook.path) is cook

    def begin(self, rig: str, source: str, sheet: str | None, clock: Clock) -> LiveCook:
        """Starts a new recording, which the rig's logger takes up."""
        recorder = Recorder.create(self.folder, clock.anchor(), rig=rig, source=source, sheet=sheet)
        recorder.close()
        return self.cook(recorder.path.stem)


def _is_over(cook: LiveCook) -> bool:
    """Whether a cook is over or gone by now: its phones may have left before its end."""
    try:
        cook.look()
    except RecordingError:
        return True
    return cook.finished() is not None
