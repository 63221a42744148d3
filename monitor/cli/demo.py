"""``kettleside demo``: a whole invented cook, faster than life, through the ordinary program."""

import argparse
import shlex
from importlib.resources import as_file
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.log import clock_anchor, rig_name
from monitor.cli.rig import speed_argument
from monitor.cli.serve import port_number
from monitor.runtime import MonitorError

if TYPE_CHECKING:
    from monitor.cli.demo_cook import DemoCook
    from monitor.ops import ChildProcess
    from monitor.runtime import Anchor

HELP = "Plays a whole invented cook, faster than life, with the dashboard."
# The logger and the dashboard start within this, in real seconds; the cook begins when it has passed.
START_UP_S = 2.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declares the command's arguments."""
    parser.add_argument("--speed", type=speed_argument, default=90.0, metavar="N", help="times faster than life (90)")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="the same seed gives the same cook (1)")
    parser.add_argument("--recordings", type=Path, metavar="DIR", help="where the cook is kept (a new folder)")
    parser.add_argument("--port", type=port_number, default=8050, metavar="P", help="the dashboard's port (8050)")
    parser.add_argument(
        "--end", action="store_true", help="end with the cook; on a terminal the page stays open until Ctrl-C"
    )
    # As the pages start it: into a recording that they have begun for this rig and go on serving themselves.
    parser.add_argument("--beside", type=rig_name, metavar="RIG", help=argparse.SUPPRESS)
    parser.add_argument("--virtual-clock", type=clock_anchor, metavar="ANCHOR", help=argparse.SUPPRESS)


def run(args: argparse.Namespace) -> int:
    """Plays the cook to its end, or until it is stopped; leaves the recording and nothing running."""
    import sys
    import threading
    from dataclasses import replace

    if args.beside:
        return _play_beside(args)
    from monitor.cli.demo_cook import DemoCook
    from monitor.ops import Supervisor
    from monitor.runtime import Reporter, SystemClock
    from monitor.session import CookLibrary
    from monitor.simulator import BATCH_FILE, BEGAN, local_transport

    folder = _empty_folder(args)
    report = Reporter("demo")
    report(
        f"An invented cook, {args.speed:g} times faster than life, is kept in {folder}. "
        "No soap is made; the person, the batch and every number are made up. Ctrl-C ends it."
    )
    real = SystemClock()
    anchor = replace(real.anchor(), cook_time=BEGAN - START_UP_S * args.speed, rate=args.speed)
    device = local_transport()
    cook_over = threading.Event()
    stays_open = not args.end and sys.stdin.isatty() and sys.stdout.isatty()
    cook = DemoCook(CookLibrary(folder), device, SystemClock(anchor), args.seed, cook_over.set)
    if stays_open:
        cook.on_finished = lambda: print(cook.summary(args.speed, _replay_sentence(args.port, cook)), flush=True)
    try:
        with as_file(BATCH_FILE) as batch:
            cook.start()
            children = _children(folder, device.source, batch, anchor, args.port)
            status = Supervisor(children, real, report).run(cook_over)
    finally:
        cook.stop()
        device.close()
    if cook.error is not None:
        raise cook.error
    if stays_open and cook.finished:
        # The whole cook has been seen, so Ctrl-C was no interruption.
        print(_closed_sentence(folder, args.port))
        return 0
    print(cook.summary(args.speed, _closed_sentence(folder, args.port)))
    return status


def _play_beside(args: argparse.Namespace) -> int:
    """Plays the cook of the rig that ``--beside`` names, whose pages another process serves."""
    import threading

    from monitor.cli.demo_cook import DemoCook
    from monitor.ops import ChildProcess, Supervisor
    from monitor.runtime import Reporter, SystemClock
    from monitor.session import CookLibrary
    from monitor.simulator import local_transport

    device, over = local_transport(), threading.Event()
    clock = SystemClock(args.virtual_clock)
    cook = DemoCook(CookLibrary(args.recordings), device, clock, args.seed, over.set, args.beside)
    logger = ["log", "--source", device.source, "--recordings", str(args.recordings)]
    logger += ["--rig", args.beside, "--virtual-clock", args.virtual_clock.as_text()]
    try:
        cook.start()
        return Supervisor([ChildProcess("logger", tuple(logger))], SystemClock(), Reporter("invented cook")).run(over)
    finally:
        cook.stop()
        device.close()


def _empty_folder(args: argparse.Namespace) -> Path:
    """The folder for the recording, made where it is missing. Raises RecordingError and PagePortError."""
    import tempfile

    from monitor.logger import DEFAULT_RIG, StateFile
    from monitor.session import CookLibrary
    from monitor.storage import RecordingError, errors_named

    folder: Path = args.recordings or Path(tempfile.mkdtemp(prefix="kettleside-demo-"))
    with errors_named(folder):
        folder.mkdir(parents=True, exist_ok=True)
    _check_port(args.port)
    if CookLibrary(folder).running() is not None:
        raise RecordingError(folder, "it has a cook under way; give the demo another folder")
    # A demo that was killed and whose folder was deleted is not waited for: no disk with a real cook is away.
    StateFile(folder, DEFAULT_RIG).forget()
    return folder


def _children(folder: Path, source: str, batch: Path, anchor: "Anchor", port: int) -> "list[ChildProcess]":
    """The logger and the page server, as ``kettleside start`` runs them. source: the URL of the virtual cooker."""
    from monitor.ops import ChildProcess

    logger = ["log", "--source", source, "--recordings", str(folder)]
    logger += ["--batch", str(batch), "--virtual-clock", anchor.as_text()]
    page = ["serve", "--recordings", str(folder), "--port", str(port)]
    return [ChildProcess("logger", tuple(logger)), ChildProcess("dashboard", tuple(page))]


def _replay_sentence(port: int, cook: "DemoCook") -> str:
    from monitor.cli.pages import installed_pages

    return f"The page stays open until Ctrl-C; the replay is {installed_pages().address(port)}/cooks/{cook.name}."


def _closed_sentence(folder: Path, port: int) -> str:
    again = f"kettleside serve --recordings {shlex.quote(str(folder))} --port {port}"
    return f"The page has closed; to look back on the cook, {again} opens it again."


class PagePortError(MonitorError):
    """The dashboard's port cannot be used. port: its number; why: one clause."""

    def __init__(self, port: int, why: str) -> None:
        self.port = port
        self.why = why
        super().__init__(f"Nothing can listen on port {port} ({why}); choose another with --port.")


def _check_port(port: int) -> None:
    """Raises PagePortError when nobody can listen on this port, before anything is started."""
    import socket

    try:
        socket.create_server(("0.0.0.0", port)).close()
    except OSError as error:
        raise PagePortError(port, (error.strerror or str(error)).lower()) from None
