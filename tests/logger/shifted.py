"""A command whose wall clock and time since boot can be moved while it runs, as a step or a sleep of the machine does."""

import sys
from pathlib import Path
from types import TracebackType

# In the process that is moved: both clocks as ``monitor.runtime.clock`` reads them, with what the file says added.
_WRAPPED = """
import sys, time
path, read, told = sys.argv.pop(1), time.clock_gettime, time.time
def shifts():
    with open(path) as file:
        wall, boot = file.read().split()
    return float(wall), float(boot)
time.time = lambda: told() + shifts()[0]
time.clock_gettime = lambda which: read(which) + shifts()[1]
from monitor.cli import main
sys.exit(main(sys.argv[1:]))
"""


class Shifted:
    """The shifts of both clocks, kept in a file of ``folder``. command: what starts ``kettleside`` under them."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / "shifts"
        self._wall_s = self._boot_s = 0.0
        self.command = (sys.executable, "-c", _WRAPPED, str(self._file))
        self.move(0.0, 0.0)

    def move(self, wall_s: float, boot_s: float) -> None:
        """Moves the wall clock and the time since boot on by so many seconds."""
        self._wall_s += wall_s
        self._boot_s += boot_s
        new = self._file.with_suffix(".new")
        new.write_text(f"{self._wall_s} {self._boot_s}")
        new.replace(self._file)

    def __enter__(self) -> "Shifted":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._file.unlink()
