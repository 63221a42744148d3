"""``kettleside plan day``: the day of a batch, in words, as a picture and for a calendar."""

import argparse
from textwrap import wrap

from monitor.cli.moment import coming_moment
from monitor.cli.plan_batch import starting_batch
from monitor.cli.sums_batch import Answer, write_file
from monitor.cli.sums_layout import WIDTH
from monitor.formulation import UnitChoice
from monitor.planning import PlanError, day_lines
from monitor.runtime import SystemClock

BY_NIGHT = "23:59"


def answer(args: argparse.Namespace, _: UnitChoice) -> Answer:
    """The day that is asked for. Raises PlanError, SumError, PlotError."""
    from monitor.session import plan_kitchen_day

    now = SystemClock().now()
    batch = None if args.named is None else starting_batch(args.named, args.recordings)
    plan = plan_kitchen_day(
        args.recordings,
        batch,
        now=now,
        start=None if args.start is None else _moment("--start", args.start, now),
        clear_by=None if args.clear_by is None else _moment("--clear-by", args.clear_by, now),
        bottled_by=None if args.bottled_by is None else _moment("--bottled-by", args.bottled_by, now, BY_NIGHT),
        **{name: value for name in ("prepare_min", "rest_days") if (value := getattr(args, name)) is not None},
    )
    lines = [line for text in day_lines(plan, known=batch is not None) for line in _wrapped(text)]
    if args.calendar is not None:
        write_file(args.calendar, plan.calendar)
        lines.append(f"For a calendar: {args.calendar}")
    if args.picture is not None:
        from monitor.plots import day, write_figure
        from monitor.session import day_frame

        write_figure(day(day_frame(plan)), args.picture)
        lines.append(f"Drawn in {args.picture}.")
    return {"day": plan}, lines


def _wrapped(text: str) -> list[str]:
    """A line as wide as a terminal; what goes on stands beneath its words and not beneath its hour."""
    indent = " " * 9 if text.startswith("  ") else ""
    return wrap(text, WIDTH, subsequent_indent=indent) or [""]


def _moment(option: str, text: str, now: float, at: str = "") -> float:
    try:
        return coming_moment(text, now, at)
    except ValueError:
        like = "saturday or 2026-12-05" if at else "14:00, 'tomorrow 14:00', 'saturday 9:30' or 2026-12-05T14:00"
        raise PlanError(f"{option} is {text!r}; write it like {like}") from None
