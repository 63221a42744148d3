"""A second host on this machine, with a link to it that loses packets, falls silent or goes down.

The host is a network namespace of its own with two links to ours: over the one that is lossy the monitor speaks to the
broker, over the other the rig does, so that what the rig sends is never in doubt. Needs root, iproute2 and nftables.
"""

import os
import subprocess
from types import TracebackType

# Addresses set aside for tries like this one (RFC 2544), so that nobody's network is meant.
BROKER_BY_AIR, BROKER_BY_CABLE = "198.18.0.1", "198.19.0.1"
_OURS_BY_AIR, _OURS_BY_CABLE = ("198.18.0.2/24", "198.18.0.3/24"), "198.19.0.2/24"


def _run(*command: str) -> None:
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{' '.join(command)}: {done.stderr.strip()} (needs root, iproute2 and nftables)"


class HostApart:
    """The host for as long as the ``with`` lasts. started_by: what starts a command there."""

    def __init__(self) -> None:
        self._name = f"apart-{os.getpid()}"
        self._air, self._cable = f"air{os.getpid()}", f"cable{os.getpid()}"
        self._ours = 0
        self.started_by = ("ip", "netns", "exec", self._name)

    def __enter__(self) -> "HostApart":
        _run("ip", "netns", "add", self._name)
        try:
            for ours, theirs, near, far in (
                (self._air, "air", _OURS_BY_AIR[0], f"{BROKER_BY_AIR}/24"),
                (self._cable, "cable", _OURS_BY_CABLE, f"{BROKER_BY_CABLE}/24"),
            ):
                _run("ip", "link", "add", ours, "type", "veth", "peer", "name", theirs, "netns", self._name)
                _run("ip", "address", "add", near, "dev", ours)
                _run("ip", "link", "set", ours, "up")
                self._there("ip", "address", "add", far, "dev", theirs)
                self._there("ip", "link", "set", theirs, "up")
            self._there("nft", "add table netdev lossy")
            self._there("nft", "add chain netdev lossy air { type filter hook ingress device air priority 0; }")
            self._there("nft", "add table inet lossy")
            self._there("nft", "add chain inet lossy out { type filter hook output priority 0; }")
        except AssertionError:
            self._end()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._end()

    def _end(self) -> None:
        # A namespace takes its ends of the links with it later, when their names may be wanted again.
        for ours in (self._air, self._cable):
            subprocess.run(("ip", "link", "delete", ours), capture_output=True, check=False)
        _run("ip", "netns", "delete", self._name)

    def _there(self, *command: str) -> None:
        _run(*self.started_by, *command)

    def lose(self, per_cent: int) -> None:
        """From now on so many of a hundred packets are lost, each way, by chance; 100 is a network that says nothing."""
        self._there("nft", "flush chain netdev lossy air; flush chain inet lossy out")
        if per_cent:
            # nft takes no chance that is a certainty.
            chance = "drop" if per_cent >= 100 else f"numgen random mod 100 < {per_cent} drop"
            self._there("nft", f"add rule netdev lossy air {chance}")
            self._there("nft", f'add rule inet lossy out oifname "air" {chance}')

    def link(self, how: str) -> None:
        """Takes the broker's end of the lossy link ``down`` or ``up``."""
        self._there("ip", "link", "set", "air", how)

    def move(self) -> None:
        """Gives us another address on the lossy link, as a new lease does."""
        before, self._ours = self._ours, 1 - self._ours
        _run("ip", "address", "del", _OURS_BY_AIR[before], "dev", self._air)
        _run("ip", "address", "add", _OURS_BY_AIR[self._ours], "dev", self._air)
