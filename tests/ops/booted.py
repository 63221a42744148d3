"""A machine of its own with systemd as its first process, over a copy of this one that is thrown away.

It is a container of Debian's systemd-container; what it writes goes to an overlay in memory, so that nothing here
changes: neither the files nor the processes nor the network. Needs root, systemd-container and dbus.
"""

import subprocess
import sysconfig
import tempfile
from collections.abc import Sequence
from pathlib import Path
from threading import Event
from types import TracebackType

from monitor.runtime import SystemClock

ROOT = Path(__file__).resolve().parents[2]
CLOCK = SystemClock()
PATIENCE_S = 60.0
PROGRAM = "/opt/kettleside"

# In a mount namespace, so that the overlay goes with its last process. An empty machine-id makes a first boot.
_BOOT = """
set -eu
space=$1; shift
mount --make-rprivate /
root=$space/root
mkdir -p "$space/up" "$space/work" "$root"
mount -t overlay overlay -o "lowerdir=/,upperdir=$space/up,workdir=$space/work" "$root"
: > "$root/etc/machine-id"
exec systemd-nspawn --register=no --keep-unit --private-network --console=pipe --quiet -D "$root" "$@" \\
    --boot systemd.unit=multi-user.target
"""
# What a person has who installed it in a folder for all: an environment of the system's own Python.
_INSTALL = f"""
set -eu
/usr/bin/python3 -m venv --without-pip {PROGRAM}
printf '/opt/source\\n/opt/libraries\\n' > "$(echo {PROGRAM}/lib/python3*/site-packages)/all.pth"
printf '#!{PROGRAM}/bin/python3\\nimport sys\\nfrom monitor.cli import main\\nsys.exit(main())\\n' > {PROGRAM}/bin/kettleside
chmod 755 {PROGRAM}/bin/kettleside
"""


class Booted:
    """The machine for as long as the ``with`` lasts."""

    def __init__(self) -> None:
        self._space = tempfile.TemporaryDirectory(prefix="machine-")
        self._process: subprocess.Popen[bytes] | None = None
        self._leader = 0

    def __enter__(self) -> "Booted":
        subprocess.run(("mount", "-t", "tmpfs", "-o", "mode=755", "tmpfs", self._space.name), check=True)
        try:
            self.boot()
            self.run(_INSTALL)
        except BaseException:
            self._end()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._end()

    def _end(self) -> None:
        self.cut_off()
        subprocess.run(("umount", self._space.name), check=True)
        self._space.cleanup()

    def boot(self) -> None:
        """Switches it on and waits until systemd answers."""
        binds = [f"--bind-ro={ROOT}:/opt/source", f"--bind-ro={sysconfig.get_path('purelib')}:/opt/libraries"]
        self._process = subprocess.Popen(
            ("unshare", "--mount", "bash", "-c", _BOOT, "boot", self._space.name, *binds),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        self.until(self._is_up, "systemd did not come up")

    def _is_up(self) -> bool:
        assert self._process is not None and self._process.poll() is None, "the machine ended while it booted"
        found = subprocess.run(
            ("pgrep", "--parent", str(self._process.pid), "--full", "systemd"), capture_output=True, text=True
        )
        if not (leader := found.stdout.split()):
            return False
        self._leader = int(leader[0])
        return self.ask("systemctl is-system-running").strip() in ("running", "degraded")

    def cut_off(self) -> None:
        """Takes its current away: every process is killed at once; what was written stays as it is."""
        if self._process is not None:
            self._process.kill()
            subprocess.run(("kill", "-9", str(self._leader)), check=False)
            self._process.wait(PATIENCE_S)
            self._process = None

    def ask(self, script: str) -> str:
        """What a shell there prints; it may fail."""
        return self._shell(script).stdout

    def run(self, script: str) -> str:
        """What a shell there prints; it must not fail."""
        done = self._shell(script)
        assert done.returncode == 0, f"{script}\n{done.stdout}{done.stderr}"
        return done.stdout

    def _shell(self, script: str) -> subprocess.CompletedProcess[str]:
        command: Sequence[str] = (
            *("nsenter", "--target", str(self._leader), "--all", "env", "-i", f"PATH={PROGRAM}/bin:/usr/sbin:/usr/bin"),
            *("LANG=C.UTF-8", "bash", "-c", script),
        )
        return subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE_S, cwd="/", check=False)

    def until(self, done: object, words: str) -> None:
        """Asks four times a second until it is so; fails after a minute."""
        assert callable(done)
        end_s = CLOCK.real_s() + PATIENCE_S
        while not done():
            assert CLOCK.real_s() < end_s, words
            Event().wait(0.25)
