"""From a source into recordings, and nothing else: the loop, the write buffer, the lock, the resumption.

Loads neither numpy nor pandas, the model or the pages, so that no fault there can cost a reading.
"""

from typing import TYPE_CHECKING

from monitor.runtime import lazy_exports

if TYPE_CHECKING:
    from monitor.logger.loop import run_logger
    from monitor.logger.resume import RESUMED_WITHIN_S, starting_anchor
    from monitor.logger.rig_config import DEFAULT_RIG, RigConfig, RigConfigError, rig_configs, shares_cook
    from monitor.logger.state_file import StateFile

__all__ = [
    "DEFAULT_RIG",
    "RESUMED_WITHIN_S",
    "RigConfig",
    "RigConfigError",
    "StateFile",
    "rig_configs",
    "run_logger",
    "shares_cook",
    "starting_anchor",
]

if not TYPE_CHECKING:
    __getattr__ = lazy_exports(
        __name__,
        {
            "loop": ("run_logger",),
            "resume": (
                "RESUMED_WITHIN_S",
                "starting_anchor",
            ),
            "rig_config": (
                "DEFAULT_RIG",
                "RigConfig",
                "RigConfigError",
                "rig_configs",
                "shares_cook",
            ),
            "state_file": ("StateFile",),
        },
    )
