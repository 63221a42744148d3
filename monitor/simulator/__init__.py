"""The virtual cooker, its sensors and its operator; as a device it speaks the same bytes as a real one."""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.simulator.device import MqttTransport, SerialTransport, Transport, local_transport, play
    from monitor.simulator.operator import Action, FixedPractice, FollowsOutlook, action_text
    from monitor.simulator.sample_recordings import SAMPLE_COOKS, WARNING, SampleCook
    from monitor.simulator.sample_setting import BATCH_FILE, BEGAN, INVENTED, invented_setting
    from monitor.simulator.simulation import Simulation

__all__ = [
    "BATCH_FILE",
    "BEGAN",
    "INVENTED",
    "SAMPLE_COOKS",
    "WARNING",
    "Action",
    "FixedPractice",
    "FollowsOutlook",
    "MqttTransport",
    "SampleCook",
    "SerialTransport",
    "Simulation",
    "Transport",
    "action_text",
    "invented_setting",
    "local_transport",
    "play",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "device": ("MqttTransport", "SerialTransport", "Transport", "local_transport", "play"),
            "operator": ("Action", "FixedPractice", "FollowsOutlook", "action_text"),
            "sample_recordings": ("SAMPLE_COOKS", "SampleCook", "WARNING"),
            "sample_setting": ("BATCH_FILE", "BEGAN", "INVENTED", "invented_setting"),
            "simulation": ("Simulation",),
        },
    )
