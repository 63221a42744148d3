"""What a bench page sent, and what its sum answers: read only, so that a view-only link may ask."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from dashboard import (
    bench_after,
    bench_charge,
    bench_day,
    bench_haze,
    bench_jar,
    bench_outcome,
    bench_paste,
    bench_plan,
    bench_pot,
)
from dashboard.answers import AskedError
from dashboard.app_state import AppState
from dashboard.bench_form import Form
from dashboard.bench_keep import known
from dashboard.bench_words import Answer
from dashboard.components.viewer import viewer_zone
from monitor.model import Batch, Event
from monitor.runtime import SystemClock
from monitor.session import Cook, kitchen_ph_offset


@dataclass(frozen=True, slots=True)
class Asked:
    """What a page sent.

    cook: the one it works on, or None. recordings: the kitchen's folder. base: the batch that a plan begins from.
    """

    sum: str
    form: Form
    cook: Cook | None
    recordings: Path
    base: Batch | None = None

    @property
    def batch(self) -> Batch | None:
        """The sheet of the cook, or None."""
        return None if self.cook is None else known(self.cook).batch

    @property
    def events(self) -> Sequence[Event]:
        """What the cook's log has, nothing without one."""
        return () if self.cook is None else known(self.cook).events

    def made(self) -> bench_pot.Made:
        """The pot of the cook. Raises FieldError where there is none."""
        return bench_pot.made_of(self.form, self.batch, self.events)


def asked_of(state: AppState, body: Mapping[str, object]) -> Asked:
    """What was sent as JSON: ``sum``, ``form``, ``cook`` and ``unit``. Raises MonitorError."""
    fields = body.get("form", {})
    if not isinstance(fields, dict):
        raise AskedError("The form must be fields with values.")
    name = str(body.get("cook") or "")
    form = Form(fields, ounces=body.get("unit") == "oz")
    base = bench_plan.batch_at(state, form.text("base", "Where it begins", 250))
    return Asked(str(body.get("sum", "")), form, state.cook(name) if name else None, state.library.folder, base)


def worked(asked: Asked) -> Answer:
    """What the sum answers. Raises FieldError for what cannot be used, AskedError for a sum that is none."""
    if asked.sum not in SUMS:
        raise AskedError(f"There is no sum called {asked.sum[:40]!r}; there are {', '.join(SUMS)}.")
    return SUMS[asked.sum](asked)


def _bottles(asked: Asked) -> Answer:
    batch = asked.batch
    return bench_after.bottles_answer(asked.form, asked.made() if batch and batch.oils else None)


def _label(asked: Asked) -> Answer:
    batch, made = asked.batch, asked.made()
    title, lot = ("", "") if batch is None else (batch.title, batch.lot)
    return bench_after.label_answer(asked.form, made, title, lot, asked.events)


def _jar(asked: Asked) -> Answer:
    return bench_jar.answer(asked.form, asked.sum, asked.events, asked.made)


def _neutralise(asked: Asked) -> Answer:
    return bench_pot.neutralising_answer(asked.form, asked.made(), kitchen_ph_offset(asked.recordings))


SUMS: Mapping[str, Callable[[Asked], Answer]] = MappingProxyType(
    {
        "charge": lambda asked: bench_charge.answer(asked.form),
        "sample": lambda asked: bench_after.sample_answer(asked.form),
        "paste": lambda asked: bench_paste.paste_answer(asked.form, asked.made()),
        "dilute": lambda asked: bench_pot.dilution_answer(asked.form, asked.made()),
        "neutralise": _neutralise,
        "jar": _jar,
        "thicken": _jar,
        "bottle": _bottles,
        "label": _label,
        "day": lambda asked: bench_day.answer(
            asked.form, asked.base, asked.recordings, SystemClock().now(), viewer_zone()
        ),
        "plan": lambda asked: bench_plan.answer(asked.form, asked.base, asked.recordings),
        "haze": lambda asked: bench_haze.answer(asked.form, asked.made(), asked.events),
        "outcome": lambda asked: bench_outcome.answer(asked.form),
    }
)


def pictured(asked: Asked) -> Any:
    """The figure of the jar, None for other sums and while the jar has nothing to draw yet."""
    if asked.sum not in bench_jar.PAGES:
        return None
    return bench_jar.jar_figure(asked.form, asked.sum, asked.events, asked.made)
