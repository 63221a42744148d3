"""The cook of ``kettleside demo``: a virtual cooker sends bytes, its operator's actions are logged."""

import threading
from collections.abc import Callable, Sequence

from monitor.runtime import Clock, MonitorError
from monitor.session import Cook, CookLibrary, Outlook
from monitor.simulator import (
    BEGAN,
    Action,
    FixedPractice,
    FollowsOutlook,
    Simulation,
    Transport,
    invented_setting,
    play,
)

# The page stays this long after the end of the cook, in real seconds, for a last look.
LAST_LOOK_S = 4.0


class DemoCook:
    """Plays one invented cook in a thread of its own.

    library: where the logger's recording of the cook appears. device: takes the readings' bytes. clock: runs at the
    demo's speed. on_end: called when the cook ends for whatever reason; ``on_finished``, where it is set, is called
    in its place after a cook that was played to its end. rig: whose recording it is, where the folder has others.
    """

    def __init__(
        self,
        library: CookLibrary,
        device: Transport,
        clock: Clock,
        seed: int,
        on_end: Callable[[], object],
        rig: str | None = None,
    ) -> None:
        self._library = library
        self._rig = rig
        self._device = device
        self._clock = clock
        self._seed = seed
        self._on_end = on_end
        self.on_finished: Callable[[], object] | None = None
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._play, name="demo cook", daemon=True)
        self._cook: Cook | None = None
        self._unlogged: list[Action] = []
        self._actions: list[Action] = []
        self.finished = False
        self.error: MonitorError | None = None

    def start(self) -> None:
        """Starts the thread; the cook begins when the clock reaches its first reading."""
        self._thread.start()

    def stop(self) -> None:
        """Ends the cook where it is and waits for its thread."""
        self._stop.set()
        if self._thread.ident is not None:
            self._thread.join()

    def _play(self) -> None:
        simulation = Simulation(
            invented_setting(),
            lambda behaviour: FollowsOutlook(self._outlook, FixedPractice(behaviour)),
            self._seed,
            BEGAN,
        )
        try:
            play(simulation, self._device, self._clock, self._stop, self._acted, timed=True, until_done=True)
            self.finished = simulation.done
            self._stop.wait(LAST_LOOK_S)
        except MonitorError as error:
            self.error = error
        finally:
            (self.on_finished if self.finished and self.on_finished else self._on_end)()

    def _outlook(self) -> Outlook | None:
        self._log_actions()
        return None if self._cook is None else self._cook.outlook()

    def _acted(self, actions: Sequence[Action]) -> None:
        self._actions += actions
        self._unlogged += actions
        self._log_actions()

    def _log_actions(self) -> None:
        """Logs what is not logged yet, once the logger has begun its recording."""
        if self._cook is None:
            self._cook = self._library.running(self._rig)
        while self._cook is not None and self._unlogged:
            action = self._unlogged[0]
            self._cook.log_event(action.kind, action.at, action.fields)
            del self._unlogged[0]

    @property
    def name(self) -> str:
        """The recording's name; empty where none was begun."""
        return self._cook.name if self._cook else ""

    def summary(self, speed: float, page: str) -> str:
        """One paragraph: what happened, where the file is, and how to see it.

        speed: seconds of cook in a real one. page: the sentence that says where the page is.
        """
        cook = self._cook or self._library.running(self._rig)
        recording = f"The recording is {cook.path}." if cook else "No recording was begun."
        if not self.finished:
            return f"The invented cook was stopped before its end. {recording} {page}"
        at = {action.kind: action.at for action in self._actions}
        checks = [str(action.fields["result"]) for action in self._actions if action.kind == "checked"]
        stirs = sum(action.kind == "stirred" for action in self._actions)
        ph = next(action.fields["ph"] for action in self._actions if action.kind == "ph read")
        cook_min = round((at["heat off"] - at["lid on"]) / 60.0)
        return (
            f"The invented cook is finished: {cook_min // 60} h {cook_min % 60:02d} min from lid on to heat off at "
            f"{speed:g} times life, stirred {stirs} times, checked {len(checks)} times ({', '.join(checks)}), "
            f"pH {ph} in a 1 % sample at 25 °C. {recording} {page}"
        )
