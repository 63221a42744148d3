"""A running cook as it is looked at again and again: what is kept between looks, and when it is worked out anew."""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from monitor.alarms import SILENCE_S, UNACKNOWLEDGED
from monitor.detection import Suggestion, find_suggestions
from monitor.estimation import Costs, Estimate, Estimator
from monitor.model import QUIET, Alarm, Event, History
from monitor.probes import ConversionTrace, convert_history
from monitor.runtime import Anchor, Clock, SystemClock
from monitor.session.cook import Cook
from monitor.session.kitchen_file import believed_kitchen_costs
from monitor.session.outlook import Outlook, waited, with_alarms, with_conditions
from monitor.storage import FolderAwayError, RecordingError

# A live estimate is made anew when this much cook time has passed, and alarms are judged when the shorter time has; an
# event does both at once.
RETHINK_S = 60.0
JUDGE_AGAIN_S = 5.0
# What nobody logged is looked for when this much cook time and real time has passed, and when something was logged.
NOTICE_AGAIN_S = 120.0
NOTICE_REAL_S = 10.0
# Phones that ask at the same moment share one look at the file.
LOOK_AGAIN_S = 0.4
RETHINK_REAL_S = 0.9
# A share that hiccups is nobody's business for as long as a rig may be silent.
AWAY_TOLD_AFTER_S = SILENCE_S
_NO_READINGS = re.compile(r"no (\S+ )?data")


@dataclass(frozen=True, slots=True)
class LiveState:
    """Everything that a page shows of a running cook, as of one look.

    now: cook time; batch_now: the same, and the clock's when the cook is over; wall: the wall clock; ended: when the
    cook was finished, or None; all in Unix seconds. rate: seconds of cook time in one real second.
    """

    history: History
    outlook: Outlook
    suggestions: tuple[Suggestion, ...]
    now: float
    batch_now: float
    wall: float
    rate: float
    ended: float | None


class LiveCook(Cook):
    """Answers the questions of ``Cook`` as of its last look, for pages and notices that ask every second or two.

    While the folder is away, it goes on with what was known before.
    """

    def __init__(
        self, path: Path, clock_for: Callable[[Anchor], Clock] = SystemClock, *, keeps_open: bool = False
    ) -> None:
        """keeps_open: whether the file of a running cook stays open from look to look, until ``let_go``."""
        super().__init__(path, clock_for)
        self._keeps_open = keeps_open
        self._looked_s = self._clock.real_s()
        self._away_since: tuple[float, float] | None = None
        self._history: History | None = None
        self._ended: float | None = None
        self._records = self.calibration_log.facts()
        self._active_records: tuple[str, ...] = ()
        self._traces: tuple[ConversionTrace, ...] | None = None
        self._estimator: Estimator | None = None
        self._kitchen_costs: tuple[Costs, tuple[str, ...]] = Costs(), ()
        self._outlook: Outlook | None = None
        self._estimated_s = self._judged_at = -math.inf
        self._estimated_for: tuple[Event, ...] = ()
        self._suggestions: tuple[Suggestion, ...] = ()
        self._suggested_for: tuple[Event, ...] | None = None
        self._suggested_at = self._suggested_s = -math.inf

    def look(self) -> None:
        """Takes in what the recording has gained, at most a few times a second."""
        self._looked()

    def _looked(self) -> float:
        """Looks where the last look is long enough ago; now, in real seconds."""
        real_s = self._clock.real_s()
        if real_s - self._looked_s >= LOOK_AGAIN_S:
            self._look_at(real_s)
        return real_s

    def _look_again(self) -> None:
        self._look_at(self._clock.real_s())

    def _look_at(self, real_s: float) -> None:
        self._looked_s = real_s
        try:
            gained = self._reader.refresh()
        except RecordingError:
            if not self._place.is_away(self.path.name):
                raise
            # The person at the cooker goes on stirring, and is called by what was known before.
            self._away_since = self._away_since or (self.now(), real_s)
            return
        if self._away_since is not None:
            self._away_since, self._judged_at = None, -math.inf
        if self._reader.about is not self.about:
            self._take_head()
        records = self.calibration_log.facts()
        if gained or records is not self._records:
            self._records, self._history, self._traces = records, None, None
        if self._keeps_open:
            self._reader.keeps_open = self.finished() is None
            if not self._reader.keeps_open:
                self._reader.let_go()

    def let_go(self, unlooked_s: float = 0.0) -> None:
        """Closes the file, if it was kept open and the last look was at least ``unlooked_s`` real seconds ago."""
        if self._clock.real_s() - self._looked_s >= unlooked_s:
            self._reader.let_go()

    @property
    def is_away(self) -> bool:
        """Whether the folder was away at the last look, so that this is the cook as it was known before."""
        return self._away_since is not None

    def history(self, as_of: float | None = None) -> History:
        if as_of is not None:
            return super().history(as_of)
        if self._history is None:
            self._history = history = convert_history(self._reader.history(), self._records, self.rig)
            finished = history.finished()
            self._ended = self.about.ended if finished is None else finished
            # Most kitchens have no calibration.
            active = self._records.active(history.as_of) if self._records.all else ()
            if active != self._active_records:
                # Blocks already made are of the old calibration.
                self._active_records, self._estimator, self._outlook = active, None, None
        return self._history

    def finished(self) -> float | None:
        if self._history is None:
            self.history()
        return self._ended

    def now(self) -> float:
        if self._history is None:
            self.history()
        return self._clock.now() if self._ended is None else max(self._ended, self._reader.last_of_cook)

    def conversion_traces(self, as_of: float | None = None) -> tuple[ConversionTrace, ...]:
        if as_of is not None:
            return super().conversion_traces(as_of)
        if self._traces is None:
            self._traces = super().conversion_traces()
        return self._traces

    def state(self) -> LiveState:
        """What there is to show now, after a look."""
        real_s = self._looked()
        # Asked after the look, which may have brought another clock.
        history, moment = self.history(), self._clock.anchor()
        now = self.now() if self._ended is not None else moment.cook_time
        outlook = self._outlook_at(history, now, real_s)
        suggestions = self._suggestions_at(history, now, real_s)
        return LiveState(history, outlook, suggestions, now, self.batch_now(), moment.wall, self.rate, self._ended)

    def outlook(self, as_of: float | None = None) -> Outlook:
        if as_of is not None:
            return super().outlook(as_of)
        real_s = self._looked()
        return self._outlook_at(self.history(), self.now(), real_s)

    def _outlook_at(self, history: History, now: float, real_s: float) -> Outlook:
        outlook = self._outlook
        rested = outlook is None or (
            abs(now - outlook.estimate.t) >= RETHINK_S and real_s - self._estimated_s >= RETHINK_REAL_S
        )
        if outlook is None or rested or history.events != self._estimated_for:
            away = self._away_since is not None
            kitchen_costs = self._kitchen_costs if away else believed_kitchen_costs(self.path.parent)
            if self._estimator is None or kitchen_costs != self._kitchen_costs:
                self._estimator, self._kitchen_costs = Estimator(self._prior, *kitchen_costs), kitchen_costs
            estimate = self._estimator.estimate(history, now)
            self._estimated_s, self._estimated_for = real_s, history.events
        elif self._ended is not None:
            # Its estimate stands; only a timer of the batch may have begun to ring.
            self._outlook = self._with_timers(outlook)
            return self._outlook
        elif abs(now - self._judged_at) < JUDGE_AGAIN_S:
            return outlook
        else:
            estimate = outlook.estimate
        self._outlook, self._judged_at = self._with_timers(self._judged(estimate, history, now)), now
        return self._outlook

    def _judged(self, estimate: Estimate, history: History, now: float) -> Outlook:
        outlook = with_conditions(estimate, history, now, SILENCE_S * self.rate)
        if self._away_since is not None:
            outlook = with_alarms(estimate, self._alarms_while_away(outlook.alarms, self._away_since))
        return waited(outlook, history, now)

    def _with_timers(self, outlook: Outlook) -> Outlook:
        """The outlook of a cook that is over with the timers that ring by now; of another the outlook as it is."""
        if self._ended is None or (alarms := self.ringing()) == outlook.alarms:
            return outlook
        return replace(outlook, alarms=alarms)

    def _alarms_while_away(self, alarms: tuple[Alarm, ...], away_since: tuple[float, float]) -> tuple[Alarm, ...]:
        """What is wrong, and that the folder is away: readings may come meanwhile, and none can be seen here."""
        others = tuple(alarm for alarm in alarms if not _NO_READINGS.fullmatch(alarm.name))
        since, since_s = away_since
        if self._clock.real_s() - since_s < AWAY_TOLD_AFTER_S:
            return others
        text = f"{FolderAwayError(self.path)} What is due is told by what was known before."
        return Alarm(QUIET, UNACKNOWLEDGED, since, text), *others

    def offered_suggestions(self) -> tuple[Suggestion, ...]:
        """``suggestions`` as of the last minutes, for pages that ask every second or two."""
        return self._suggestions_at(self.history(), self.now(), self._clock.real_s())

    def _suggestions_at(self, history: History, now: float, real_s: float) -> tuple[Suggestion, ...]:
        # Either clock alone would do for a real cook; a virtual one's minute passes within a second.
        rested = abs(now - self._suggested_at) >= NOTICE_AGAIN_S and real_s - self._suggested_s >= NOTICE_REAL_S
        if rested or history.events != self._suggested_for:
            self._suggestions = find_suggestions(history)
            self._suggested_for, self._suggested_at, self._suggested_s = history.events, now, real_s
        return self._suggestions
