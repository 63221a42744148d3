"""``kettleside plan sheets``: the batch sheets that are kept."""

import argparse

from monitor.cli.plan_batch import sheets_lines
from monitor.cli.sums_batch import Answer
from monitor.formulation import UnitChoice


def answer(args: argparse.Namespace, units: UnitChoice) -> Answer:
    """The kept sheets, after one was removed where that is asked. Raises KeptSheetError."""
    from monitor.storage import kept_sheets, remove_sheet

    if args.remove is not None:
        remove_sheet(args.recordings, args.remove)
    sheets = [
        {"name": sheet.name, "file": str(sheet.path), "batch": sheet.batch, "why": sheet.why}
        for sheet in kept_sheets(args.recordings)
    ]
    return {"sheets": sheets}, list(sheets_lines(args.recordings, units))
