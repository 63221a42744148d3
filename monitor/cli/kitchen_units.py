"""The units in which a command is read: those that the kitchen of its recordings folder has chosen."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.formulation import UnitChoice


def kitchen_units(args: argparse.Namespace) -> "UnitChoice":
    """The units of the folder that the command names, else of the usual one; metric ones where none were chosen."""
    from monitor.session import believed_kitchen_units

    return believed_kitchen_units(getattr(args, "recordings", None) or Path("recordings"))
