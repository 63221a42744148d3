"""``kettleside demo``: a whole invented cook, faster than life, through the ordinary program."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.rig import speed_argument
from monitor.cli.serve import port_number
from monitor.runtime import MonitorError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from monitor.runtime import Clock
    from monitor.session import Cook, CookLibrary, Outlook
    from monitor.simulator import Action, SerialTransport

HELP = "Plays a whole invented cook over a real pseudo-terminal, faster than life, with the dashboard."
# The logger and the dashboard start within this; the cook begins when it has passed.
START_UP_S = 2.0
# The page stays this long at the end of the cook, for a last look.
LAST_LOOK_S = 4.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of this command."""
    parser.add_argument("--speed", type=speed_argument, default=90.0, metavar="N", help="times faster than life (90)")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="the same seed gives the same cook (1)")
    parser.add_argument("--recordings", type=Path, metavar="DIR", help="where the cook is kept (a new folder)")
    parser.add_argument("--port", type=port_number, default=8050, metavar="P", help="the dashboard's port (8050)")
    parser.add_argument(
        "--end", action="store_true", help="end with the cook; on a terminal the page stays open until Ctrl-C"
    )


def run(args: argparse.Namespace) -> int:
    """Plays the cook to its end, or until it is stopped; leaves the recording and nothing running."""
    import shlex
    import sys
    import tempfile
    import threading
    from dataclasses import replace
    from importlib.resources import as_file

    from monitor.ops import ChildProcess, Supervisor
    from monitor.runtime import Reporter, SystemClock
    from monitor.session import CookLibrary
    from monitor.simulator import BATCH_FILE, BEGAN, SerialTransport
    from monitor.storage import RecordingError, errors_named

    folder: Path = args.recordings or Path(tempfile.mkdtemp(prefix="kettleside-demo-"))
    with errors_named(folder):
        folder.mkdir(parents=True, exist_ok=True)
    _check_port(args.port)
    if CookLibrary(folder).running() is not None:
        raise RecordingError(folder, "it has a cook under way; give the demo another folder")
    say = Reporter("demo")
    say(
        f"An invented cook, {args.speed:g} times faster than life, is kept in {folder}. "
        "No soap is made; the person, the batch and every number are made up. Ctrl-C ends it."
    )
    real = SystemClock()
    anchor = replace(real.anchor(), cook_time=BEGAN - START_UP_S * args.speed, rate=args.speed)
    clock = SystemClock(anchor)
    terminal = SerialTransport()
    cook_over = threading.Event()
    stays = not args.end and sys.stdin.isatty() and sys.stdout.isatty()
    kitchen = _Kitchen(CookLibrary(folder), terminal, clock, args.seed, cook_over.set)
    if stays:
        kitchen.when_done = lambda: print(kitchen.summary(args.speed, _stays_open(args.port, kitchen)), flush=True)
    try:
        with as_file(BATCH_FILE) as batch:
            logger = ["log", "--source", f"serial://{terminal.path}", "--recordings", str(folder)]
            logger += ["--batch", str(batch), "--virtual-clock", anchor.as_text()]
            page = ["serve", "--recordings", str(folder), "--port", str(args.port)]
            kitchen.start()
            children = [ChildProcess("logger", tuple(logger)), ChildProcess("dashboard", tuple(page))]
            status = Supervisor(children, real, say).run(cook_over)
    finally:
        kitchen.stop()
        terminal.close()
    if kitchen.error is not None:
        raise kitchen.error
    again = f"kettleside serve --recordings {shlex.quote(str(folder))} --port {args.port}"
    closed = f"The page has closed; to look back on the cook, {again} opens it again."
    if stays and kitchen.finished:
        # All that there was to see has been seen, so Ctrl-C was no interruption.
        print(closed)
        return 0
    print(kitchen.summary(args.speed, closed))
    return status


def _stays_open(port: int, kitchen: "_Kitchen") -> str:
    from dashboard.server import base

    return f"The page stays open until Ctrl-C; the replay is {base('0.0.0.0', port)}/cooks/{kitchen.name}."


class PagePortError(MonitorError):
    """The dashboard's port cannot be had. port: its number; why: one clause."""

    def __init__(self, port: int, why: str) -> None:
        self.port = port
        self.why = why
        super().__init__(f"Nothing can listen on port {port} ({why}); choose another with --port.")


def _check_port(port: int) -> None:
    """Raises PortError when nobody can listen on this port, before anything is started."""
    import socket

    try:
        socket.create_server(("0.0.0.0", port)).close()
    except OSError as error:
        raise PagePortError(port, (error.strerror or str(error)).lower()) from None


class _Kitchen:
    """The virtual rig and its person, in a thread: bytes to the terminal, deeds to the recording."""

    def __init__(
        self, shelf: "CookLibrary", terminal: "SerialTransport", clock: "Clock", seed: int, over: "Callable[[], object]"
    ) -> None:
        """over: called at its end; ``when_done``, where it is set, in its place once the cook is finished."""
        import threading

        self._shelf = shelf
        self._terminal = terminal
        self._clock = clock
        self._seed = seed
        self._over = over
        self.when_done: Callable[[], object] | None = None
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._play, name="virtual kitchen", daemon=True)
        self._cook: Cook | None = None
        self._unlogged: list[Action] = []
        self._deeds: list[Action] = []
        self.finished = False
        self.error: MonitorError | None = None

    def start(self) -> None:
        """Begins the cook when its moment comes."""
        self._thread.start()

    def stop(self) -> None:
        """Ends the cook where it is."""
        self._stop.set()
        if self._thread.ident is not None:
            self._thread.join()

    def _play(self) -> None:
        from monitor.simulator import BEGAN, FixedPractice, FollowsOutlook, Simulation, invented_setting, play

        scene = Simulation(
            invented_setting(), lambda habits: FollowsOutlook(self._ask, FixedPractice(habits)), self._seed, BEGAN
        )
        try:
            play(scene, self._terminal, self._clock, self._stop, self._told, timed=True, until_done=True)
            self.finished = scene.done
            self._stop.wait(LAST_LOOK_S)
        except MonitorError as error:
            self.error = error
        finally:
            (self.when_done if self.finished and self.when_done else self._over)()

    def _ask(self) -> "Outlook | None":
        self._log()
        return None if self._cook is None else self._cook.outlook()

    def _told(self, deeds: "Sequence[Action]") -> None:
        self._deeds += deeds
        self._unlogged += deeds
        self._log()

    def _log(self) -> None:
        """Logs what is not logged yet, as soon as the logger has begun its recording."""
        if self._cook is None:
            self._cook = self._shelf.running()
        while self._cook is not None and self._unlogged:
            deed = self._unlogged[0]
            self._cook.log_event(deed.kind, deed.at, deed.fields)
            del self._unlogged[0]

    @property
    def name(self) -> str:
        """The recording's name; empty where none was begun."""
        return self._cook.name if self._cook else ""

    def summary(self, speed: float, page: str) -> str:
        """One paragraph: what happened, where the file is, and ``page``, how to see it."""
        cook = self._cook or self._shelf.running()
        kept = f"The recording is {cook.path}." if cook else "No recording was begun."
        if not self.finished:
            return f"The invented cook was stopped before its end. {kept} {page}"
        at = {deed.kind: deed.at for deed in self._deeds}
        checks = [str(deed.fields["result"]) for deed in self._deeds if deed.kind == "checked"]
        stirs = sum(deed.kind == "stirred" for deed in self._deeds)
        ph = next(deed.fields["ph"] for deed in self._deeds if deed.kind == "ph read")
        cook_min = round((at["heat off"] - at["lid on"]) / 60.0)
        return (
            f"The invented cook is finished: {cook_min // 60} h {cook_min % 60:02d} min from lid on to heat off at "
            f"{speed:g} times life, stirred {stirs} times, checked {len(checks)} times ({', '.join(checks)}), "
            f"pH {ph} in a 1 % sample at 25 °C. {kept} {page}"
        )
