"""What every bench sum needs: its batch, the state of the pot, and a place to log or write the result."""

import argparse
from collections.abc import Mapping
from pathlib import Path
from typing import TypeAlias

from monitor.chemistry import check_range
from monitor.cli.resolve import find
from monitor.formulation import BatchState, Charge, batch_state, charge_of, read_sheet
from monitor.model import Batch, Event
from monitor.runtime import MonitorError
from monitor.storage import CookSummary, summary
from monitor.storage import read_batch as recorded_batch

# The result, which --json prints, and the lines that tell it to a person.
Answer: TypeAlias = tuple[object, list[str]]


class SumError(MonitorError):
    """A bench sum cannot be made. why: one clause, what is wrong and what is allowed."""

    exit_status = 2

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(f"The sum cannot be made: {why}.")


def read_batch(args: argparse.Namespace) -> tuple[Batch, CookSummary | None]:
    """The batch of --batch or --cook, and the cook where it was named. Raises SumError, SheetError, RecordingError."""
    if args.cook is not None:
        cook = summary(find(args.cook, args.recordings))
        batch = recorded_batch(cook.about.sheet)
        if batch is None:
            raise SumError(f"{cook.path.name} has no batch sheet")
        return batch, cook
    if args.batch is None:
        raise SumError("name a batch sheet with --batch, or a recording with --cook")
    try:
        return read_sheet(args.batch.read_text(encoding="utf-8")), None
    except OSError as error:
        raise SumError(f"{args.batch}: {(error.strerror or str(error)).lower()}") from None
    except UnicodeDecodeError:
        raise SumError(f"{args.batch} is not text in UTF-8") from None


def batch_and_state(args: argparse.Namespace) -> tuple[Batch, Charge, tuple[Event, ...], BatchState]:
    """The batch, its alkali charge, what was logged, and the state of the pot that follows. Raises as read_batch."""
    batch, cook = read_batch(args)
    made = charge_of(batch)
    events = cook.events if cook else ()
    now = batch_state(made, events, water_lost_g=args.water_lost, paste_weighed_g=args.paste_weighed)
    return batch, made, events, now


def log_weighed(args: argparse.Namespace, kind: str, grams: float | None, fields: Mapping[str, object]) -> list[str]:
    """Logs an event with its grams in the cook of --cook; the line that says so. Raises SumError."""
    if args.cook is None or grams is None:
        raise SumError("--log wants a recording with --cook, and the grams that went in")
    log_in_cook(args, kind, {**fields, "grams": grams})
    return [f"Logged: {kind}, {grams:g} g."]


def log_in_cook(args: argparse.Namespace, kind: str, fields: Mapping[str, object], *, minutes_ago: float = 0.0) -> None:
    """Logs an event in the cook of --cook, as of ``minutes_ago``, 0 to 240. Raises SumError and ValueError."""
    # Imported here, because it loads the estimator, which the sums do without.
    from monitor.session import Cook

    if args.cook is None:
        raise SumError("--log wants a recording with --cook")
    cook = Cook(find(args.cook, args.recordings))
    check_range("minutes_ago", minutes_ago, 0.0, 240.0, "min")
    cook.log_event(kind, cook.now() - 60.0 * minutes_ago if minutes_ago else None, fields)


def write_file(path: Path, text: str) -> None:
    """Writes a text as UTF-8. Raises SumError."""
    try:
        path.write_bytes(text.encode())
    except OSError as error:
        raise SumError(f"{path}: {(error.strerror or str(error)).lower()}") from None
