"""From a source into recordings, and nothing else: the loop, the write buffer, the lock, the resumption.

Loads neither numpy nor pandas, the model or the pages, so that no fault there can cost a reading.
"""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.logger.loop import run_logger
    from monitor.logger.resume import RESUMED_WITHIN_S, anchor_to_go_on_from
    from monitor.logger.rig_config import USUAL, RigConfig, RigConfigError, rig_configs, shares_cook
    from monitor.logger.state_file import Whereabouts

__all__ = [
    "RESUMED_WITHIN_S",
    "USUAL",
    "RigConfig",
    "RigConfigError",
    "Whereabouts",
    "anchor_to_go_on_from",
    "rig_configs",
    "run_logger",
    "shares_cook",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "loop": ("run_logger",),
            "resume": ("RESUMED_WITHIN_S", "anchor_to_go_on_from"),
            "rig_config": ("RigConfig", "RigConfigError", "USUAL", "rig_configs", "shares_cook"),
            "state_file": ("Whereabouts",),
        },
    )
