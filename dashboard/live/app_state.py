"""The state behind every page: the cooks of the folder, and the changes that phones have not got yet."""

import re
from pathlib import Path
from threading import Lock

from flask import current_app

from dashboard.components.answers import AskedError
from dashboard.live.cook_state import overview_of
from dashboard.live.course import CourseFigures
from dashboard.live.live_delta import LiveDelta
from monitor.runtime import SystemClock
from monitor.session import CookLibrary, LiveCook, is_sample
from monitor.storage import SUFFIX, CookSummary

# No other name can be that of a recording.
_NAME = re.compile(r"[\w][\w.\- ]{0,200}\Z")
USUAL_RIG = "cooker"
APP_STATE = "kettleside-state"


class AppState:
    """The cooks as the pages use them.

    lock: held during a request, so that one thread works at a time. courses: the figures of running cooks.
    """

    def __init__(self, library: CookLibrary) -> None:
        self.library = library
        self.lock = Lock()
        self.courses = CourseFigures()
        self._deltas: dict[str, LiveDelta] = {}

    def cook(self, name: str) -> LiveCook:
        """The cook of this name, freshly looked at. Raises RecordingError."""
        cook = self.find(name)
        cook.look()
        return cook

    def path_of(self, name: str) -> Path:
        """The recording of this name, which may not be there. Raises AskedError for what is no name."""
        if not _NAME.match(name):
            raise AskedError("There is no such cook.")
        return self.library.folder / f"{name}{SUFFIX}"

    def find(self, name: str) -> LiveCook:
        """The cook of this name, as of its last look. Raises RecordingError."""
        if not _NAME.match(name):
            raise AskedError("There is no such cook.")
        return self.library.cook(name)

    def delta(self, name: str) -> LiveDelta:
        """The changes of this cook for phones. Raises RecordingError."""
        cook = self.find(name)
        delta = self._deltas.get(name)
        if delta is None or delta.cook is not cook:
            # A delta keeps its cook in memory, so it must not outlive the library's own reference.
            self._deltas = {key: kept for key, kept in self._deltas.items() if self.library.is_open(kept.cook)}
            delta = self._deltas[name] = LiveDelta(cook)
        return delta

    def tidy(self) -> None:
        """Closes cooks that nobody looks at any more; skipped while a request is answered."""
        if self.lock.acquire(blocking=False):
            try:
                self.library.let_go()
            finally:
                self.lock.release()

    def running(self) -> list[CookSummary]:
        """The cook under way of each rig that has one, the one that began last first."""
        return self.library.running_summaries()

    def overview(self) -> list[dict[str, object]]:
        """The list of running cooks for the first page: those in danger first, then by the cookers' names.

        The keys are those of ``cook_state.overview_of``, with ``rig`` the cooker, ``cook`` the recording and ``title``.
        """
        looks: list[dict[str, object]] = []
        for found in sorted(self.running(), key=lambda found: found.about.rig):
            cook = self.cook(found.path.stem)
            looks.append({"rig": found.about.rig, "cook": cook.name, "title": cook.title(), **overview_of(cook)})
        return sorted(looks, key=lambda look: look["headline"] is None)

    def begin(self, after: str = "", sheet: str | None = None) -> LiveCook:
        """A new cook on the cooker of the cook ``after``, or if that is empty on the one that was used last.

        sheet: its batch sheet. Raises RecordingError, SheetError, or AskedError while a cook runs there: its logger
        would only take up the new one after the old one's end.
        """
        # What was invented to be looked at is on no cooker, and its mark would keep a real cook from teaching.
        found = [found for found in self.library.cooks() if isinstance(found, CookSummary) and not is_sample(found)]
        last = next((one for one in found if not after or one.path.stem == after), None)
        rig, source = (last.about.rig, last.about.source) if last else (USUAL_RIG, "")
        if any(one.about.rig == rig for one in self.running()):
            raise AskedError(f"A cook is running already on {rig}; finish it first.")
        return self.library.begin(rig, source, sheet, SystemClock())


def current_state() -> AppState:
    """The state of the application that is answering."""
    state: AppState = current_app.extensions[APP_STATE]
    return state
