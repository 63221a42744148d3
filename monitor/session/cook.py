"""One cook as the pages and the notices see it, as of any moment.

Live, virtual and replayed cooks are one path: a replay is the same view at an earlier moment.
"""

import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import cached_property
from pathlib import Path

from monitor.alarms import SILENCE_S, ringing_timers
from monitor.analysis import AlignedCourse, TimeLossReport
from monitor.detection import Suggestion, dismissal_fields, find_suggestions, suggested_events
from monitor.estimation import Costs, Estimate, Estimator, Prior, costs_of
from monitor.model import AFTER_COOK, Alarm, Event, History, check_uid, clear_bracket, make_event
from monitor.probes import ConversionTrace, conversion_traces, convert_history
from monitor.runtime import Anchor, Clock, SystemClock
from monitor.session.kitchen_file import believed_kitchen_costs
from monitor.session.learning import kitchen_model
from monitor.session.outlook import Outlook, waited, with_conditions
from monitor.session.ph_learning import kitchen_ph_offset
from monitor.session.review import IDEAL, USUAL, aligned, cook_time_loss
from monitor.storage import (
    SUFFIX,
    CalibrationLog,
    FolderAwayError,
    IncrementalReader,
    RecordingError,
    WatchedFolder,
    log_event,
    withdraw_event,
    write_sheet,
)

# An event may be logged with a time up to this long before the cook began, and up to this long after now.
EARLIEST_BEFORE_START_S = 86_400.0
LATEST_AHEAD_S = 60.0


class Cook:
    """Answers questions about one recording, and logs what a person did.

    Each answer is worked out anew from all that the recording holds, or held at the moment that is asked for.
    ``LiveCook`` answers the same questions at the pace of a page that asks every second.

    name: the recording's, as addresses use it. about: its head; from that rig, the cooker's name; source, the source
    URL of the readings, without any password, empty where it is not known yet; rate, seconds of cook time in one real
    second, above one for a virtual cook. Raises RecordingError, also from the constructor, when the file is not a
    recording, is damaged or cannot be read.
    """

    def __init__(self, path: Path, clock_for: Callable[[Anchor], Clock] = SystemClock) -> None:
        """clock_for: makes the clock that counts on from a recording's anchor."""
        self._clock_for = clock_for
        self._reader = IncrementalReader(path)
        self._anchor = self._reader.about.anchor
        self._clock = clock_for(self._anchor)
        self._place = WatchedFolder(path.parent)
        self.path = path
        self.name = path.stem
        self._take_head()
        self.calibration_log = CalibrationLog(path.parent)

    @property
    def wall(self) -> float:
        """The wall clock, Unix seconds, which the time of a virtual cook runs away from."""
        return self._clock.anchor().wall

    @property
    def last_known(self) -> float:
        """When the latest reading or entry became known, Unix seconds."""
        return self._reader.last_known

    def title(self) -> str:
        """The batch's title, or the cooker's name."""
        batch = self.history().batch
        return batch.title if batch else self.rig

    def now(self) -> float:
        """Cook time in Unix seconds: the clock's while the cook runs, its end once it is finished.

        What is logged of the cook itself later, such as a check, moves that end; what is logged of the batch does not.
        """
        end = self.finished()
        return self._clock.now() if end is None else max(end, self._reader.last_of_cook)

    def batch_now(self) -> float:
        """The time of the batch in Unix seconds: cook time, and the clock's when the cook is over."""
        return max(self.now(), self._clock.now())

    def ago(self, real_s: float) -> float:
        """The cook's clock ``real_s`` real seconds ago, Unix seconds; it goes on after the cook's end."""
        return self._clock.now() - real_s * self.rate

    def finished(self) -> float | None:
        """When the cook was logged as finished, Unix seconds, or None."""
        logged = self.history().finished()
        return self.about.ended if logged is None else logged

    def look(self) -> None:
        """Takes in what the recording has gained."""
        self._reader.refresh()
        if self._reader.about is not self.about:
            self._take_head()

    def _take_head(self) -> None:
        """Takes the head of the recording over, whose anchor a logger that was started again has moved."""
        about = self._reader.about
        if about.anchor != self._anchor:
            self._anchor, self._clock = about.anchor, self._clock_for(about.anchor)
        self.about, self.rig, self.source, self.rate = about, about.rig, about.source, about.anchor.rate

    def history(self, as_of: float | None = None) -> History:
        """What was known at ``as_of`` (Unix seconds), or all that is known, by the calibrations known then."""
        return convert_history(self._reader.history(as_of), self.calibration_log.facts(), self.rig)

    def raw(self, as_of: float | None = None) -> History:
        """The readings as they were sent, without any calibration."""
        return self._reader.history(as_of)

    def conversion_traces(self, as_of: float | None = None) -> tuple[ConversionTrace, ...]:
        """How each channel's raw signal became what ``history`` shows."""
        return conversion_traces(self._reader.history(as_of), self.calibration_log.facts(), self.rig)

    @cached_property
    def _prior(self) -> Prior:
        """What the cooks that had ended when this one began have taught; read once, when first wanted."""
        folder, began = self.path.parent, self.about.started
        return replace(kitchen_model(folder, began).prior(), ph_offset=kitchen_ph_offset(folder, began))

    def outlook(self, as_of: float | None = None) -> Outlook:
        """What the monitor thinks now, or would have thought at ``as_of`` (Unix seconds)."""
        if as_of is not None:
            return self.as_of(as_of)[1]
        self.look()
        history, now = self.history(), self.now()
        return self._judged(self._fresh_estimator().estimate(history, now), history, now)

    def _fresh_estimator(self) -> Estimator:
        """An estimator that has seen nothing yet, with the kitchen's prior and its costs of today."""
        return Estimator(self._prior, *believed_kitchen_costs(self.path.parent))

    def ringing(self) -> tuple[Alarm, ...]:
        """The timers of the batch that ring, also when its cook is over."""
        return ringing_timers(self.history(), self.batch_now())

    def costs(self) -> Costs:
        """What counts for this cook now: its own costs, and the kitchen's where it has none."""
        return costs_of(self.history().events, believed_kitchen_costs(self.path.parent)[0])

    def as_of(self, moment: float) -> tuple[History, Outlook]:
        """What was known at ``moment`` (Unix seconds), and what the monitor would have thought of it."""
        history = self.history(moment)
        # A new estimator each time, because one that had seen a later moment's calibration would remember it.
        return history, self._judged(self._fresh_estimator().estimate(history, moment), history, moment)

    def _judged(self, estimate: Estimate, history: History, now: float) -> Outlook:
        """The estimate with what is wrong at ``now``, and what waits because of that."""
        # A machine's hiccup is minutes of a virtual cook's own time.
        return waited(with_conditions(estimate, history, now, SILENCE_S * self.rate), history, now)

    @contextmanager
    def _written(self) -> Iterator[None]:
        """Raises FolderAwayError for what cannot be written because the folder is away."""
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
        if uid is not None:
            check_uid(uid)
            if (before := self._reader.event_with(uid)) is not None:
                return before
        now = self.batch_now() if kind in AFTER_COOK else self.now()
        moment = now if measured is None else measured
        if not self.about.started - EARLIEST_BEFORE_START_S <= moment <= now + LATEST_AHEAD_S:
            raise ValueError(f"measured is {moment:.0f}; it must be from a day before the cook began to now")
        event = make_event(uid or str(uuid.uuid4()), kind, moment, now, fields)
        with self._written():
            log_event(self.path, event)
        self._look_again()
        # Another phone, or the same one's second try, may have been first by a moment.
        return self._reader.event_with(event.uid) or event

    def logged(self, uid: str) -> Event | None:
        """The event of this id, also one that was taken back; None where there is none. Raises ValueError for no id."""
        check_uid(uid)
        self._look_again()
        return self._reader.event_with(uid)

    def acknowledge(self, condition: str) -> Event:
        """Logs that a person has seen the condition of this name."""
        return self.log_event("acknowledged", fields={"condition": condition})

    def shelve(self, condition: str, minutes: float) -> Event:
        """Logs that the condition of this name is shelved for this number of minutes."""
        return self.log_event("shelved", fields={"condition": condition, "minutes": minutes})

    def suggestions(self, as_of: float | None = None) -> tuple[Suggestion, ...]:
        """What seems to have happened and nobody logged, for a person to confirm; takes tens of milliseconds."""
        self.look()
        return find_suggestions(self.history(as_of))

    def keep(self, one: Suggestion, kind: str = "", uids: Sequence[str] = ()) -> tuple[Event, ...]:
        """Logs what was noticed, at the time at which it happened; as this kind, one of its answers.

        uids: as for ``log_event``, one for each event.
        """
        own = zip(suggested_events(one, kind), (*uids, None, None), strict=False)
        return tuple(self.log_event(entry.kind, entry.at, entry.fields, uid) for entry, uid in own)

    def drop(self, one: Suggestion, uid: str | None = None) -> Event:
        """Logs that it did not happen, so that it is not asked again. uid: as for ``log_event``."""
        return self.log_event("dropped", fields=dismissal_fields(one), uid=uid)

    def _look_again(self) -> None:
        """Takes in what this process has just written, without waiting for the next look."""
        self.look()

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
        event = self._reader.event_with(uid)
        with self._written():
            # One that was logged after the cook's end does not become undone before it was known.
            withdraw_event(self.path, uid, max(self.now(), event.known if event else 0.0))
        self._look_again()

    def put_sheet(self, text: str) -> None:
        """Gives the cook a batch sheet, or a better one. Raises SheetError."""
        with self._written():
            write_sheet(self.path, text, self.now())
        self._look_again()
