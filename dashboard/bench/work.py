"""What a bench page sent, and what its sum answers: read only, so that a view-only link may ask."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from dashboard.bench import after, charge, day, haze, outcome, paste
from dashboard.bench import jar as bench_jar
from dashboard.bench import plan as bench_plan
from dashboard.bench import pot as bench_pot
from dashboard.bench.form import Form
from dashboard.bench.keep import known
from dashboard.components.answers import AskedError
from dashboard.components.bench_words import Answer
from dashboard.components.viewer import viewer_zone
from dashboard.live.app_state import AppState
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
    return after.bottles_answer(asked.form, asked.made() if batch and batch.oils else None)


def _label(asked: Asked) -> Answer:
    batch, made = asked.batch, asked.made()
    title, lot = ("", "") if batch is None else (batch.title, batch.lot)
    return after.label_answer(asked.form, made, title, lot, asked.events)


def _jar(asked: Asked) -> Answer:
    return bench_jar.answer(asked.form, asked.sum, asked.events, asked.made)


def _neutralise(asked: Asked) -> Answer:
    return bench_pot.neutralising_answer(asked.form, asked.made(), kitchen_ph_offset(asked.recordings))


SUMS: Mapping[str, Callable[[Asked], Answer]] = MappingProxyType(
    {
        "charge": lambda asked: charge.answer(asked.form),
        "sample": lambda asked: after.sample_answer(asked.form),
        "paste": lambda asked: paste.paste_answer(asked.form, asked.made()),
        "dilute": lambda asked: bench_pot.dilution_answer(asked.form, asked.made()),
        "neutralise": _neutralise,
        "jar": _jar,
        "thicken": _jar,
        "bottle": _bottles,
        "label": _label,
        "day": lambda asked: day.answer(asked.form, asked.base, asked.recordings, SystemClock().now(), viewer_zone()),
        "plan": lambda asked: bench_plan.answer(asked.form, asked.base, asked.recordings),
        "haze": lambda asked: haze.answer(asked.form, asked.made(), asked.events),
        "outcome": lambda asked: outcome.answer(asked.form),
    }
)


def pictured(asked: Asked) -> Any:
    """The figure of the jar, None for other sums and while the jar has nothing to draw yet."""
    if asked.sum not in bench_jar.PAGES:
        return None
    return bench_jar.jar_figure(asked.form, asked.sum, asked.events, asked.made)
