"""The sources of readings: the rights on a serial port, and whether a broker accepts this account."""

import os
import secrets
import sys
from collections.abc import Sequence
from pathlib import Path

from monitor.ops.diagnostics.finding import Finding, FindingState
from monitor.runtime import Clock
from monitor.sources import (
    Connected,
    Disconnected,
    MqttConnection,
    SourceUrl,
    listed_ports,
    parse_source_url,
    topic_filter,
)

BROKER_WITHIN_S = 5.0


def check_sources(sources: Sequence[str], clock: Clock) -> list[Finding]:
    """The state of each source; without any, of the serial ports of this machine. Raises SourceError."""
    findings: list[Finding] = []
    for url in map(parse_source_url, sources):
        if url.scheme == "serial":
            findings += [check_port(url.path)] if url.path else _all_ports(url.options.get("also", ""), wanted=True)
        elif url.scheme in ("mqtt", "mqtts"):
            findings.append(check_broker(url, clock))
    return findings if sources else _all_ports("", wanted=False)


def _all_ports(also: str, *, wanted: bool) -> list[Finding]:
    names = listed_ports(also)
    if names:
        return [check_port(name) for name in names]
    state = FindingState.WRONG if wanted else FindingState.WELL
    advice = "Plug the rig in, and look at its cable." if wanted else ""
    return [Finding("port", state, "This machine has no serial port now.", advice)]


def check_port(name: str) -> Finding:
    """Whether this account may use the port."""
    if sys.platform == "win32":
        return Finding("port", FindingState.WELL, f"{name} is one of this machine's.")
    path = Path(name)
    if not path.exists():
        return Finding("port", FindingState.WRONG, f"{name} is not there.", "Plug the rig in, or name another port.")
    if os.access(path, os.R_OK | os.W_OK):
        return Finding("port", FindingState.WELL, f"{name} may be used.")
    status = path.stat()
    text = f"Your account has no right to use {name}."
    if status.st_mode & 0o060 != 0o060:
        return Finding("port", FindingState.WRONG, text, "Give its group that right: sudo chmod g+rw " + name + ".")
    try:
        group = path.group()
    except KeyError:
        group = str(status.st_gid)
    return Finding(
        "port", FindingState.WRONG, text, f"Join the group {group} (sudo usermod -aG {group} $USER), then log in anew."
    )


def check_broker(url: SourceUrl, clock: Clock) -> Finding:
    """Whether the broker answers within 5 s, accepts the password and lets us read the topic."""
    connection = MqttConnection(
        url, clock, f"kettleside-doctor-{secrets.token_hex(3)}", [topic_filter(url)], persistent=False
    )
    end_s = clock.real_s() + BROKER_WITHIN_S
    accepted, why = False, f"The broker {url.host} does not answer."
    try:
        while (left_s := end_s - clock.real_s()) > 0.0:
            for event in connection.poll(min(left_s, 0.5)):
                if isinstance(event, Connected):
                    # A topic that may not be read is refused just after.
                    accepted, end_s = True, min(end_s, clock.real_s() + 0.5)
                elif isinstance(event, Disconnected):
                    accepted, why = False, event.reason
                    # The same broker may accept us in the other version of MQTT, which is tried next.
                    end_s = min(end_s, clock.real_s() + 1.0)
    finally:
        connection.close()
    if accepted:
        return Finding("broker", FindingState.WELL, f"{url.host} answers and takes us.")
    advice = "Set the password in KETTLESIDE_MQTT_PASSWORD or in a password_file, and try again."
    return Finding(
        "broker", FindingState.WRONG, why, advice if "password" in why else "See that it runs and can be reached."
    )
