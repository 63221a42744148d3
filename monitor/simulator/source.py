"""The built-in virtual rig: it runs in a thread over a pseudo-terminal and is read like any serial source."""

import threading
from collections.abc import Iterable, Sequence
from contextlib import suppress
from queue import Empty, SimpleQueue

from monitor.protocol import Pack, PayloadLayout
from monitor.runtime import Clock
from monitor.simulator.device import DeviceError, SerialTransport, play
from monitor.simulator.operator import Action, FixedPractice, action_text
from monitor.simulator.sample_setting import invented_setting
from monitor.simulator.simulation import Simulation
from monitor.sources import Info, SerialSource, SourceError, SourceItem, SourceUrl, parse_source_url
from monitor.sources import open_serial_source as open_serial


class RigSource:
    """The virtual rig and the serial source that reads it.

    The person's actions are passed on as information, so that whoever watches can log them; the rig itself logs
    nothing.
    """

    def __init__(
        self, url: str, serial_source: SerialSource, terminal: SerialTransport, simulation: Simulation, clock: Clock
    ) -> None:
        self.url = url
        self.window = serial_source.window
        self._serial_source = serial_source
        self._terminal = terminal
        self._messages: SimpleQueue[str] = SimpleQueue()
        self._stop = threading.Event()
        self._player = threading.Thread(target=self._play, args=(simulation, clock), name="virtual rig", daemon=True)
        self._player.start()

    def _play(self, simulation: Simulation, clock: Clock) -> None:
        try:
            play(simulation, self._terminal, clock, self._stop, self._report, timed=False, until_done=False)
        except DeviceError as error:
            self._messages.put(str(error))

    def _report(self, actions: Sequence[Action]) -> None:
        for action in actions:
            self._messages.put(action_text(action))

    @property
    def port(self) -> str | None:
        """The terminal's path while packs arrive; see Source."""
        return self._serial_source.port

    def poll(self, timeout_s: float) -> list[SourceItem]:
        """What arrived within ``timeout_s`` real seconds; see Source."""
        items = self._serial_source.poll(timeout_s)
        with suppress(Empty):
            while True:
                items.append(Info(self._messages.get_nowait()))
        return items

    def stored(self, packs: Iterable[Pack]) -> None:
        """Does nothing: the rig keeps no packs."""

    def close(self) -> None:
        """Stops the rig and closes its terminal."""
        self._stop.set()
        self._serial_source.close()
        self._player.join()
        self._terminal.close()


def open_rig_source(url: SourceUrl, clock: Clock, layout: PayloadLayout | None, identity: str) -> RigSource:
    """Opens the virtual rig; ``rig:?seed=7`` chooses another cook. Raises SourceError."""
    if url.host or url.path:
        raise SourceError(url.text, "the built-in rig has no address; write rig: or rig:?seed=7")
    seed_text = url.options.get("seed", "1")
    if not seed_text.isdecimal() or len(seed_text) > 18:
        raise SourceError(url.text, f"its seed is {seed_text!r}; it must be a whole number from 0")
    simulation = Simulation(invented_setting(), FixedPractice, int(seed_text), clock.now())
    terminal = SerialTransport()
    serial_source = open_serial(parse_source_url(f"serial://{terminal.path}"), clock, layout, identity)
    return RigSource(url.text, serial_source, terminal, simulation, clock)
