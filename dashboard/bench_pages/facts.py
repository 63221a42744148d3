"""What a bench page is about: the cook, its sheet and its log, and how one page is described."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from dashboard.bench.charge import planned_anew, still_weighed
from dashboard.bench.keep import known
from dashboard.components.fields import Fields
from dashboard.components.results import Results
from dashboard.components.tags import Component
from dashboard.live.app_state import AppState
from monitor.formulation import OUNCE_G
from monitor.model import Batch, Event
from monitor.storage import CookSummary, KeptSheet


@dataclass(frozen=True, slots=True)
class BenchFacts:
    """The cook that a page works on, and what is known of it. name: of the cook, empty where there is none.

    running: whether any cook is running. others: the other cooks of the folder, the latest first. base: of a plan,
    where it begins (``bench_plan.batch_at``). sheets: those that are kept.
    """

    name: str = ""
    title: str = ""
    batch: Batch | None = None
    events: Sequence[Event] = ()
    running: bool = False
    others: Sequence[CookSummary] = ()
    base: str = ""
    sheets: Sequence[KeptSheet] = ()

    @property
    def weighed(self) -> Mapping[str, float]:
        """What was weighed and still is what the sheet has, g."""
        return {} if self.batch is None else still_weighed(self.batch, self.events)


def bench_facts(state: AppState, wanted: str | None, *, new: bool = False) -> BenchFacts:
    """Of the cook wanted, else of the latest. Held under the state's lock; raises MonitorError.

    new: while none is running, a page that nobody asked of a cook is of the next one, with the latest one's sheet to
    begin from and nothing weighed yet.
    """
    found = [each for each in state.library.cooks() if isinstance(each, CookSummary)]
    running = state.running()
    name = wanted or next((each.path.stem for each in (*running, *found)), None)
    if name is None:
        return BenchFacts()
    cook = state.cook(name)
    history = known(cook)
    batch = history.batch
    others = [each for each in found if each.path != cook.path]
    if new and not wanted and not running:
        return BenchFacts(batch=None if batch is None else planned_anew(batch), others=others)
    title = batch.title if batch else cook.rig
    return BenchFacts(name, title, batch, history.events, bool(running), others)


@dataclass(frozen=True, slots=True)
class SumPage:
    """One page of the bench.

    first: what stands in its fields at first, weights in g. inputs: its fields. results: what is laid out of an answer.
    top: the number that the hand weighs, which stays in sight. weights: fields with a weight. weight_if: fields with a
    weight where a choice stands so. acts: its own buttons, each from the form and its unit to the form.
    chart: name and height of its picture. chart_first: whether it stands before the results. slow: its sum takes so
    long that the page stands before it, and that nobody else waits for it; it works on no cook.
    """

    first: Callable[[BenchFacts], dict[str, object]]
    inputs: Callable[[Fields, BenchFacts], list[Component]]
    results: Callable[[Results], list[Component]]
    top: Callable[[Results], list[Component]] = lambda _results: []
    weights: frozenset[str] = frozenset()
    weight_if: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    acts: Mapping[str, Callable[[dict[str, object], bool, str], dict[str, object]]] = field(default_factory=dict)
    chart: tuple[str, int, str] | None = None
    chart_first: bool = False
    slow: bool = False


def figure(value: float | None, digits: int = 4) -> str:
    """A number as it stands in a field at first.

    >>> figure(0.1 + 0.2), figure(12_345.6), figure(None)
    ('0.3', '12346', '')
    """
    if value is None:
        return ""
    return f"{value:.{digits}g}" if abs(value) < 10_000 else f"{value:.0f}"


def turned(page: SumPage, form: Mapping[str, object], before: str, after: str) -> dict[str, object]:
    """The form with its weights in another unit; what is no number stays as it was typed."""
    if before == after:
        return dict(form)
    factor = 1.0 / OUNCE_G if after == "oz" else OUNCE_G

    def one(name: str, value: object) -> object:
        choice, chosen = page.weight_if.get(name, ("", ""))
        weight = name in page.weights or (choice and form.get(choice) == chosen)
        number = as_number(value) if weight else None
        return value if number is None else f"{number * factor:.6g}"

    return {
        name: [{inner: one(inner, typed) for inner, typed in row.items()} for row in value]
        if isinstance(value, list)
        else one(name, value)
        for name, value in form.items()
    }


def as_number(value: object) -> float | None:
    """The number that was typed, None where it is none."""
    try:
        return float(str(value).strip().replace(",", "."))
    except ValueError:
        return None
