"""All checks in the order in which a person reads them."""

from collections.abc import Callable, Sequence
from pathlib import Path

from monitor.ops.diagnostics.channels import check_channels
from monitor.ops.diagnostics.finding import Finding
from monitor.ops.diagnostics.machine import check_clock, check_disk, check_libraries, clock_is_synchronised
from monitor.ops.diagnostics.recordings import check_loggers, check_permissions, check_recordings
from monitor.ops.diagnostics.sources import check_sources
from monitor.runtime import Clock

PROGRAM = Path(__file__).parents[2]


def diagnose(folder: Path, sources: Sequence[str], clock: Clock, progress: Callable[[int, int], None]) -> list[Finding]:
    """Whether this machine is fit to watch a cook.

    folder: of the recordings. sources: addresses of the sources; without any, every serial port is checked.
    progress: takes the number of recordings checked and their total. Raises SourceError for a wrong address.
    """
    now = clock.anchor()
    return [
        *check_sources(sources, clock),
        *check_clock(folder, now, clock_is_synchronised()),
        check_disk(folder),
        *check_permissions(folder),
        *check_libraries(),
        *check_recordings(folder, progress),
        *check_loggers(folder, PROGRAM, now.wall, now.boot_s),
        *check_channels(folder),
    ]
