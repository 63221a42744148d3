"""Keeping the processes running: the supervisor, the systemd service, the diagnostics of this machine."""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.ops.diagnostics.diagnose import diagnose
    from monitor.ops.diagnostics.finding import Finding, FindingState
    from monitor.ops.service_manager import ServiceManager
    from monitor.ops.supervisor import ChildProcess, Supervisor
    from monitor.ops.systemd import ACCOUNT, CREDENTIAL, RULE_NAME, UNIT_NAME, ServiceRequest, port_name, rule, unit

__all__ = [
    "ACCOUNT",
    "CREDENTIAL",
    "RULE_NAME",
    "UNIT_NAME",
    "ChildProcess",
    "Finding",
    "FindingState",
    "ServiceManager",
    "ServiceRequest",
    "Supervisor",
    "diagnose",
    "port_name",
    "rule",
    "unit",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "diagnostics.diagnose": ("diagnose",),
            "diagnostics.finding": ("Finding", "FindingState"),
            "service_manager": ("ServiceManager",),
            "supervisor": ("ChildProcess", "Supervisor"),
            "systemd": (
                "ACCOUNT",
                "CREDENTIAL",
                "RULE_NAME",
                "ServiceRequest",
                "UNIT_NAME",
                "port_name",
                "rule",
                "unit",
            ),
        },
    )
