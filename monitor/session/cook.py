"""One cook as the pages and the notices see it, as of any moment.

Live, virtual and replayed cooks are one path: a replay is the same view at an earlier moment.
"""

import math
import re
import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import cached_property
from pathlib import Path

from monitor.alarms import SILENCE_S, UNACKNOWLEDGED
from monitor.analysis import AlignedCourse, TimeLossReport
from monitor.detection import Suggestion, dismissal_fields, find_suggestions, suggested_events
from monitor.estimation import Estimator, Outlook, Prior
from monitor.model import QUIET, Alarm, Event, History, check_uid, clear_bracket, make_event
from monitor.probes import ConversionTrace, conversion_traces, converted
from monitor.runtime import Anchor, Clock, SystemClock
from monitor.session.learning import kitchen_model
from monitor.session.outlook import waited, with_conditions
from monitor.session.review import IDEAL, USUAL, aligned, cook_time_loss
from monitor.storage import (
    SUFFIX,
    CalibrationLog,
    FolderAwayError,
    IncrementalReader,
    Place,
    RecordingError,
    log_event,
    withdraw_event,
    write_sheet,
)

# A live outlook is thought through anew when this much cook time has passed, and what is wrong is looked for when the
# shorter time has; an event does both at once.
RETHINK_S = 60.0
JUDGE_AGAIN_S = 5.0
# What nobody logged is looked for when this much cook time and real time has passed, and when something was logged.
NOTICE_AGAIN_S = 120.0
NOTICE_REAL_S = 10.0
# Phones that ask at the same moment share one look at the file.
LOOK_AGAIN_S = 0.4
RETHINK_REAL_S = 0.9
# A share that hiccups is nobody's business; as long as a rig may be silent.
AWAY_TOLD_AFTER_S = SILENCE_S


class Cook:
    """One recording as the pages and the notices see it."""

    def __init__(
        self, path: Path, clock_for: Callable[[Anchor], Clock] = SystemClock, *, keeps_open: bool = False
    ) -> None:
        """keeps_open: whether the file of a running cook stays open from look to look, until ``let_go``."""
        self._clock_for = clock_for
        self._roll = IncrementalReader(path)
        self._keeps_open = keeps_open
        self._tie = self._roll.about.anchor
        self._clock = clock_for(self._tie)
        self._looked_s = self._clock.real_s()
        self._forecaster: Estimator | None = None
        self._estimated: Outlook | None = None
        self._thought: Outlook | None = None
        self._thought_s = -math.inf
        self._judged_s = -math.inf
        self._events: tuple[Event, ...] = ()
        self._whole: History | None = None
        self._chains: tuple[ConversionTrace, ...] = ()
        self._chains_of: History | None = None
        self._offered: tuple[Suggestion, ...] = ()
        self._offered_for: tuple[Event, ...] | None = None
        self._noticed_at = -math.inf
        self._noticed_s = -math.inf
        self._book = CalibrationLog(path.parent)
        self._standing: tuple[str, ...] = ()
        self._place = Place(path.parent)
        self._away_since: tuple[float, float] | None = None

    @property
    def path(self) -> Path:
        """The recording's file."""
        return self._roll.path

    @property
    def name(self) -> str:
        """The recording's name, as addresses use it."""
        return self.path.stem

    @property
    def rig(self) -> str:
        """The cooker's name."""
        return self._roll.about.rig

    @property
    def source(self) -> str:
        """Where its readings come from, a source URL without any password; empty where nobody knows yet."""
        return self._roll.about.source

    def title(self) -> str:
        """The batch's title, or the cooker's name."""
        batch = self.history().batch
        return batch.title if batch else self.rig

    @property
    def rate(self) -> float:
        """Seconds of cook time in one real second; above one for a virtual cook."""
        return self._tie.rate

    @property
    def wall(self) -> float:
        """The clock on the wall, Unix seconds, which a cook's own time may run away from."""
        return self._clock.anchor().wall

    def now(self) -> float:
        """Cook time in Unix seconds: the clock's while it runs, the last known moment once it is finished."""
        end = self.finished()
        return self._clock.now() if end is None else max(end, self._roll.last_known)

    def ago(self, real_s: float) -> float:
        """What the cook's clock said so many real seconds ago, Unix seconds; it goes on after the cook's end."""
        return self._clock.now() - real_s * self.rate

    @property
    def last_known(self) -> float:
        """When the latest reading or entry became known, Unix seconds."""
        return self._roll.last_known

    def finished(self) -> float | None:
        """When it was logged as finished, or None."""
        logged = self.history().finished()
        return self._roll.about.ended if logged is None else logged

    def look(self) -> None:
        """Takes in what the recording gained, at most a few times a second."""
        if self._clock.real_s() - self._looked_s < LOOK_AGAIN_S:
            return
        self._look_now()

    def _look_now(self) -> None:
        self._looked_s = self._clock.real_s()
        try:
            self._roll.refresh()
        except RecordingError:
            if not self._place.is_away(self.path.name):
                raise
            # The person at the cooker goes on stirring, and is called by what was known before.
            self._away_since = self._away_since or (self.now(), self._looked_s)
            return
        if self._away_since is not None:
            self._away_since, self._judged_s = None, -math.inf
        self._whole = None
        if self._roll.about.anchor != self._tie:
            self._tie = self._roll.about.anchor
            self._clock = self._clock_for(self._tie)
        if self._keeps_open:
            self._roll.keeps_open = self.finished() is None
            if not self._roll.keeps_open:
                self._roll.let_go()

    def let_go(self, unlooked_s: float = 0.0) -> None:
        """Closes the file, if it was kept open and nobody has looked for so many real seconds."""
        if self._clock.real_s() - self._looked_s >= unlooked_s:
            self._roll.let_go()

    def history(self, as_of: float | None = None) -> History:
        """What was known at ``as_of`` (Unix seconds), or all that is known, by the calibrations known then."""
        if as_of is not None:
            return converted(self._roll.history(as_of), self._book.facts(), self.rig)
        if self._whole is None:
            facts = self._book.facts()
            self._whole = converted(self._roll.history(), facts, self.rig)
            standing = facts.standing(self._whole.as_of)
            if standing != self._standing:
                # Blocks already made are of the old calibration.
                self._standing, self._forecaster, self._thought = standing, None, None
        return self._whole

    def raw(self, as_of: float | None = None) -> History:
        """The readings as they were sent, without any calibration."""
        return self._roll.history(as_of)

    @property
    def calibration_log(self) -> CalibrationLog:
        """The calibrations of the cook's folder."""
        return self._book

    def conversion_traces(self, as_of: float | None = None) -> tuple[ConversionTrace, ...]:
        """How each channel's raw signal became what ``history`` shows."""
        if as_of is not None:
            return conversion_traces(self._roll.history(as_of), self._book.facts(), self.rig)
        whole = self.history()
        if self._chains_of is not whole:
            self._chains = conversion_traces(self._roll.history(), self._book.facts(), self.rig)
            self._chains_of = whole
        return self._chains

    @cached_property
    def _prior(self) -> Prior:
        """What the cooks that had ended when this one began have taught; read once, when first wanted."""
        return kitchen_model(self.path.parent, self._roll.about.started).prior()

    def outlook(self, as_of: float | None = None) -> Outlook:
        """What the monitor thinks now, or would have thought at ``as_of`` (Unix seconds)."""
        if as_of is not None:
            return self.as_of(as_of)[1]
        self.look()
        history = self.history()
        now = self.now()
        fresh = (
            self._thought is not None
            and history.events == self._events
            and (abs(now - self._thought.t) < RETHINK_S or self._clock.real_s() - self._thought_s < RETHINK_REAL_S)
        )
        if self._thought is None or not fresh:
            self._forecaster = self._forecaster or Estimator(self._prior)
            self._estimated = self._thought = self._forecaster.estimate(history, now)
            self._thought_s = self._clock.real_s()
            self._events = history.events
            self._judged_s = -math.inf
        if abs(now - self._judged_s) >= JUDGE_AGAIN_S:
            self._thought = self._judged(self._estimated or self._thought, history, now)
            self._judged_s = now
        return self._thought

    def as_of(self, moment: float) -> tuple[History, Outlook]:
        """What was known at ``moment`` (Unix seconds), and what the monitor would have thought of it."""
        history = self.history(moment)
        # A new forecaster each time, because one that had seen a later moment's calibration would remember it.
        return history, self._judged(Estimator(self._prior).estimate(history, moment), history, moment)

    def _judged(self, thought: Outlook, history: History, now: float) -> Outlook:
        """The outlook with what is wrong at ``now``, and what waits for that."""
        # A machine's hiccup is minutes of a virtual cook's own time.
        whole = with_conditions(thought, history, now, SILENCE_S * self.rate)
        return waited(replace(whole, conditions=self._seen_from_here(whole.conditions)), history, now)

    @property
    def is_away(self) -> bool:
        """Whether the folder was away at the last look, so that this is the cook as it was known before."""
        return self._away_since is not None

    def _seen_from_here(self, found: tuple[Alarm, ...]) -> tuple[Alarm, ...]:
        """What is wrong, and that the folder is away: readings may come meanwhile, and none can be seen here."""
        if self._away_since is None:
            return found
        others = tuple(one for one in found if not re.fullmatch(r"no (\S+ )?data", one.name))
        if self._clock.real_s() - self._away_since[1] < AWAY_TOLD_AFTER_S:
            return others
        words = f"{FolderAwayError(self.path)} What is due is told by what was known before."
        return Alarm(QUIET, UNACKNOWLEDGED, self._away_since[0], words), *others

    @contextmanager
    def _written(self) -> Iterator[None]:
        """Says of what cannot be written because the folder is away just that."""
        try:
            yield
        except RecordingError:
            if self._place.is_away(self.path.name):
                raise FolderAwayError(self.path) from None
            raise

    def log_event(
        self,
        kind: str,
        measured: float | None = None,
        fields: Mapping[str, object] | None = None,
        uid: str | None = None,
    ) -> Event:
        """Logs what a person did or saw, once, however often the same entry arrives.

        measured: Unix seconds, now if None. uid: the entry's own id, made by whoever sends it before the first try, so
        that a lost answer or a double tap logs one event; made here if None. Returns the event as it is recorded: that
        of the first arrival where the id was there before, also where it has been taken back meanwhile.
        Raises ValueError for a kind, field, id or time that is not allowed, RecordingError when it cannot be written.
        """
        before = None if uid is None else self.logged(uid)
        if before is not None:
            return before
        now = self.now()
        moment = now if measured is None else measured
        if not self._roll.about.started - 86400 <= moment <= now + 60:
            raise ValueError(f"measured is {moment:.0f}; it must be from a day before the cook began to now")
        event = make_event(uid or str(uuid.uuid4()), kind, moment, now, fields)
        with self._written():
            log_event(self.path, event)
        self._look_now()
        # Another phone, or the same one's second try, may have been first by a moment.
        return self._roll.event_with(event.uid) or event

    def logged(self, uid: str) -> Event | None:
        """The event of this id, also one that was taken back; None where there is none. Raises ValueError for no id."""
        check_uid(uid)
        self._look_now()
        return self._roll.event_with(uid)

    def acknowledge(self, condition: str) -> Event:
        """Logs that a person has seen the condition of this name."""
        return self.log_event("acknowledged", fields={"condition": condition})

    def shelve(self, condition: str, minutes: float) -> Event:
        """Logs that the condition of this name is put aside for so many minutes."""
        return self.log_event("shelved", fields={"condition": condition, "minutes": minutes})

    def suggestions(self, as_of: float | None = None) -> tuple[Suggestion, ...]:
        """What seems to have happened and nobody logged, to be kept or dropped; tens of milliseconds of work."""
        self.look()
        return find_suggestions(self.history(as_of))

    def offered_suggestions(self) -> tuple[Suggestion, ...]:
        """``find_suggestions`` as of the last minutes, for pages that ask every second or two."""
        history, now, real_s = self.history(), self.now(), self._clock.real_s()
        # Either clock alone would do for a real cook; a virtual one's minute passes within a second.
        rested = abs(now - self._noticed_at) >= NOTICE_AGAIN_S and real_s - self._noticed_s >= NOTICE_REAL_S
        if rested or history.events != self._offered_for:
            self._offered = find_suggestions(history)
            self._offered_for, self._noticed_at, self._noticed_s = history.events, now, real_s
        return self._offered

    def keep(self, one: Suggestion, kind: str = "", uids: Sequence[str] = ()) -> tuple[Event, ...]:
        """Logs what was noticed, at the time at which it happened; as this kind, one of its answers.

        uids: as for ``log_event``, one for each event.
        """
        own = zip(suggested_events(one, kind), (*uids, None, None), strict=False)
        return tuple(self.log_event(entry.kind, entry.at, entry.fields, uid) for entry, uid in own)

    def drop(self, one: Suggestion, uid: str | None = None) -> Event:
        """Logs that it did not happen, so that it is not asked again. uid: as for ``log_event``."""
        return self.log_event("dropped", fields=dismissal_fields(one), uid=uid)

    def clear_bracket(self) -> tuple[float | None, float] | None:
        """Between which moments (Unix seconds) the paste came clear, as the checks of the whole cook show it."""
        return clear_bracket(self.history())

    def ledger(self, reference: str | None = None) -> TimeLossReport | None:
        """Where the time went: against IDEAL, USUAL, a cook of this folder by name, or what fits best; None before it
        has ended. Tens of milliseconds for each cook compared. Raises RecordingError."""
        chosen = self.path.with_name(f"{reference}{SUFFIX}") if reference not in (None, IDEAL, USUAL) else None
        if chosen is not None and chosen.parent != self.path.parent:
            raise RecordingError(Path(chosen.name), "there is no such file")
        return cook_time_loss(self.path, chosen or reference)

    def track(self, way: str) -> AlignedCourse | None:
        """This cook laid along one of WAYS, to be compared."""
        return aligned(self.path, way)

    def take_back(self, uid: str) -> None:
        """Withdraws an event as of now."""
        with self._written():
            withdraw_event(self.path, uid, self.now())
        self._look_now()

    def put_sheet(self, text: str) -> None:
        """Gives the cook a batch sheet, or a better one. Raises SheetError."""
        with self._written():
            write_sheet(self.path, text, self.now())
        self._look_now()
