"""The course of a running cook as pages draw it: made once for all who look, and anew with each estimate."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from threading import Lock

from dashboard.components.chart import chart_data
from monitor.estimation import Estimate
from monitor.exchange import events_frame, readings_frame
from monitor.model import Event, History
from monitor.plots import course

# As many cooks as a household watches at once, and phones' zones of one cook.
MOST_COOKS, MOST_ZONES = 16, 4


@dataclass(frozen=True, slots=True)
class _Drawn:
    """Of what the figures were made, and the figure by zone."""

    estimate: Estimate
    events: tuple[Event, ...]
    by_zone: dict[str, dict[str, object]] = field(default_factory=dict)


class CourseFigures:
    """Makes the figure of each cook's course, and keeps it until its estimate or its log is another. Thread-safe."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._drawn: dict[str, _Drawn] = {}

    def chart_of(self, cook: str, history: History, estimate: Estimate, zone: str) -> Mapping[str, object]:
        """The course as ``chart_data`` has it, its times as the clocks of ``zone`` show them.

        cook: the recording's name. history, estimate: of its latest look.
        """
        # To draw takes some 20 ms, and phones ask at the same moments: one draws, and the others take that.
        with self._lock:
            drawn = self._drawn.get(cook)
            if drawn is None or drawn.estimate is not estimate or drawn.events != history.events:
                self._drawn.pop(cook, None)
                while len(self._drawn) >= MOST_COOKS:
                    self._drawn.pop(next(iter(self._drawn)))
                drawn = self._drawn[cook] = _Drawn(estimate, history.events)
            if zone not in drawn.by_zone:
                while len(drawn.by_zone) >= MOST_ZONES:
                    drawn.by_zone.pop(next(iter(drawn.by_zone)))
                drawn.by_zone[zone] = _chart(history, estimate, zone)
            return drawn.by_zone[zone]


def _chart(history: History, estimate: Estimate, zone: str) -> dict[str, object]:
    paste = history.by_role("paste")
    # The other channels are not drawn, and would cost as much again.
    shown = replace(history, series={} if paste is None else {paste.channel: paste})
    return chart_data(course(readings_frame(shown).tz_convert(zone), events_frame(history), estimate))
