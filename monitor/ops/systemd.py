"""A systemd unit and a udev rule that make kettleside a service of the machine. Pure: nothing is written."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from monitor.sources import UsbPort

UNIT_NAME = "kettleside.service"
RULE_NAME = "70-kettleside.rules"
ACCOUNT = "kettleside"
CREDENTIAL = "mqtt-password"
# A supervisor looks at its children ten times a second; one that has not for so long hangs.
WATCHDOG_S = 30


@dataclass(frozen=True, slots=True)
class ServiceRequest:
    """What the unit is to run.

    command: the program and its arguments. recordings: their folder. of_person: a unit of a person's own service
    manager, not of the machine's. password: the file with the brokers' password, where one is needed.
    serial: whether a serial port is used. homes: whether any path lies in a home folder.
    """

    command: tuple[str, ...]
    recordings: Path
    of_person: bool
    password: str | None
    serial: bool
    homes: bool


# What a program that reads a port, writes a folder and answers on the network does not need (systemd.exec(5)). These
# work in a person's own service manager too.
_CONFINED = (
    "NoNewPrivileges=yes",
    "RestrictAddressFamilies=AF_INET AF_INET6 AF_UNIX AF_NETLINK",
    "RestrictNamespaces=yes",
    "RestrictRealtime=yes",
    "RestrictSUIDSGID=yes",
    "LockPersonality=yes",
    "SystemCallArchitectures=native",
    "SystemCallFilter=@system-service",
    "SystemCallErrorNumber=EPERM",
    "UMask=0077",
)
# These need the machine's service manager.
_MORE_CONFINED = (
    "CapabilityBoundingSet=",
    "AmbientCapabilities=",
    "PrivateTmp=yes",
    "ProtectSystem=strict",
    "ProtectControlGroups=yes",
    "ProtectHostname=yes",
    "ProtectKernelLogs=yes",
    "ProtectKernelModules=yes",
    "ProtectKernelTunables=yes",
    "ProtectProc=invisible",
    "RemoveIPC=yes",
)


def quoted(word: str) -> str:
    """A word of a command line as ExecStart takes it (systemd.service(5), "Command lines").

    >>> quoted("/a b/100 %$x")
    '"/a b/100 %%$$x"'
    """
    if any(not character.isprintable() for character in word):
        raise ValueError(f"word is {word!r}; it must be printable")
    escaped = word.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%").replace("$", "$$")
    return f'"{escaped}"' if re.search(r"[\s\"'\\;]", escaped) or not escaped else escaped


def _path(path: Path) -> str:
    # In a list of paths "%" is a specifier, "$" is nothing special and blanks part.
    escaped = str(path).replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%")
    return f'"{escaped}"' if " " in escaped else escaped


def unit(request: ServiceRequest) -> str:
    """The systemd unit (systemd.unit(5)).

    systemd ends only the supervisor, which ends its children in good order. A child that runs out of memory is started
    again by the supervisor and does not end the rest. A wrong command line is not tried again. A supervisor that hangs,
    or that has not been able to keep a child running for a minute, is ended and started again by systemd's watchdog.
    """
    command = " ".join(quoted(word) for word in request.command)
    # The one place where a specifier is meant: the folder in which systemd puts the password (systemd.exec(5)).
    command = command.replace(f"password_file=@{CREDENTIAL}", f"password_file=%d/{CREDENTIAL}")
    lines = [
        "[Unit]",
        "Description=kettleside, a watch beside the cooker",
        "After=network.target mosquitto.service time-sync.target",
        "",
        "[Service]",
        "Type=notify",
        "NotifyAccess=main",
        f"ExecStart={command}",
        "Environment=PYTHONSAFEPATH=1 PYTHONUNBUFFERED=1",
        "SyslogIdentifier=kettleside",
        "Restart=on-failure",
        "RestartSec=2",
        "RestartPreventExitStatus=2",
        # Ended in good order where it still can, and by SIGKILL after TimeoutAbortSec where it hangs.
        f"WatchdogSec={WATCHDOG_S}",
        "WatchdogSignal=SIGTERM",
        "TimeoutAbortSec=15",
        "KillMode=mixed",
        "TimeoutStopSec=15",
        "OOMPolicy=continue",
        "TasksMax=512",
    ]
    if request.password is not None:
        lines.append(f"LoadCredential={CREDENTIAL}:{request.password}")
    if not request.of_person:
        lines += [f"User={ACCOUNT}", f"Group={ACCOUNT}"]
        if request.serial:
            # A port plugged in later has a device number that is not known yet, so DeviceAllow cannot name it;
            # and ProtectClock brings a DeviceAllow of its own, which would shut out every port.
            lines.append("SupplementaryGroups=dialout")
        else:
            lines += ["PrivateDevices=yes", "DevicePolicy=closed", "ProtectClock=yes"]
        home = "read-only" if request.homes else "yes"
        lines += [*_MORE_CONFINED, f"ProtectHome={home}", f"ReadWritePaths={_path(request.recordings)}"]
        # Not in the recordings' folder, whose disk may be away (see whereabouts).
        lines += ["StateDirectory=kettleside-state", "StateDirectoryMode=0700"]
    lines += [*_CONFINED, "", "[Install]", f"WantedBy={'default.target' if request.of_person else 'multi-user.target'}"]
    return "\n".join(lines) + "\n"


def port_name(cooker: str) -> str:
    """The stable name of a cooker's port under /dev.

    >>> port_name("left pot")
    'kettleside-left-pot'
    """
    return f"kettleside-{re.sub(r'[^A-Za-z0-9]+', '-', cooker).strip('-') or 'cooker'}"


def rule(ports: Sequence[tuple[str, UsbPort]]) -> str:
    """The udev rule (udev(7)) that gives each cooker's port its stable name. ports: cooker and port.

    A port without a number of its own is known by the socket it is plugged into.
    """
    lines = []
    for cooker, port in ports:
        keys = ['SUBSYSTEM=="tty"', f'ATTRS{{idVendor}}=="{port.vendor}"', f'ATTRS{{idProduct}}=="{port.product}"']
        if port.serial and re.fullmatch(r"[\w.:-]+", port.serial):
            lines.append(f"# {cooker}: the converter with the number {port.serial}, whatever socket it is in")
            keys.append(f'ATTRS{{serial}}=="{port.serial}"')
        elif port.place:
            lines.append(f"# {cooker}: the converter has no number of its own, so it must stay in this socket")
            keys.append(f'KERNELS=="{port.place}"')
        lines.append(", ".join([*keys, f'SYMLINK+="{port_name(cooker)}"', 'GROUP="dialout"', 'MODE="0660"']))
    return "\n".join(lines) + "\n" if lines else ""
