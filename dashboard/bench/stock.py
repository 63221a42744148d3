"""A batch beside the shelf: what it takes, what is short, whose certificates it takes over, and what it costs."""

from collections.abc import Callable
from dataclasses import dataclass

from dashboard.bench.form import Form
from dashboard.bench.keep import known
from dashboard.components.answers import AskedError
from dashboard.live.app_state import AppState
from monitor.formulation import charge_of, sheet_text
from monitor.model import local
from monitor.planning import fresh_sheet
from monitor.runtime import SystemClock
from monitor.stock import (
    Allocation,
    BatchCost,
    Need,
    Shelf,
    StockFacts,
    allocate,
    batch_cost,
    certified_sheet,
    charge_needs,
    cook_needs,
    read_stock,
    taken_for,
    with_certificates,
)
from monitor.storage import keep_sheet, read_kept_sheet

BOTTLE_ML = 250.0


@dataclass(frozen=True, slots=True)
class BatchOnShelf:
    """What a batch asks of the shelf.

    purpose: what it is called in the stock's file. shelf: as if it had taken nothing. bottles: how many it fills.
    certificates: a sentence for each value that its sheet takes over; keep_sheet: writes them there.
    taken: whether it has taken already.
    """

    title: str
    purpose: str
    needs: list[Need]
    bottles: int
    shelf: Shelf
    certificates: tuple[str, ...]
    keep_sheet: Callable[[], object]
    taken: bool

    @property
    def draws(self) -> tuple[Allocation, ...]:
        """From which lots each need is met."""
        return allocate(self.shelf, self.needs)

    @property
    def cost(self) -> BatchCost:
        """What the batch and a bottle of it cost, and what is short."""
        return batch_cost(self.shelf, self.draws, self.bottles)


def batch_on_shelf(
    state: AppState, *, cook: str = "", sheet: str = "", bottles: str = "", bottle_ml: str = ""
) -> BatchOnShelf:
    """The batch of a cook, or else of a kept sheet. bottles, bottle_ml: as they were typed.

    Raises MonitorError, ValueError for a sheet that does not add up.
    """
    facts, filled = read_stock(state.library.folder), _filled(bottles, bottle_ml)
    if cook:
        return _of_cook(state, cook, facts, filled)
    if sheet:
        return _of_sheet(state, sheet, facts, filled)
    raise AskedError("Say which batch it is for: a cook, or a kept sheet.")


def _filled(bottles: str, bottle_ml: str) -> tuple[int, float] | None:
    if not bottles.strip():
        return None
    form = Form({"bottles": bottles, "bottle_ml": bottle_ml})
    count = form.number("bottles", "The number of bottles", 1.0, 10_000.0)
    if count != int(count):
        raise form.refuse("bottles", f"{bottles.strip()} bottles are no whole number")
    return int(count), form.number("bottle_ml", "A bottle", 5.0, 20_000.0, "mL", empty=BOTTLE_ML)


def _of_cook(state: AppState, name: str, facts: StockFacts, filled: tuple[int, float] | None) -> BatchOnShelf:
    with state.lock:
        cook = state.cook(name)
        history = known(cook)
    if history.batch is None or not history.batch.oils:
        raise AskedError("This cook has no batch sheet with oils, so what it takes is not known.")
    shelf = facts.shelf_without(cook.name)
    needs, bottles = cook_needs(history.batch, history.events, filled)
    certified, certificates = certified_sheet(history.batch, history.events, shelf)

    def keep() -> None:
        with state.lock:
            cook.put_sheet(sheet_text(certified))

    taken = bool(taken_for(facts, cook.name))
    return BatchOnShelf(history.batch.title, cook.name, needs, bottles, shelf, certificates, keep, taken)


def _of_sheet(state: AppState, name: str, facts: StockFacts, filled: tuple[int, float] | None) -> BatchOnShelf:
    folder = state.library.folder
    planned = fresh_sheet(read_kept_sheet(folder, name))
    purpose = f"{planned.title}, {local(SystemClock().now()):%Y-%m-%d}"
    shelf = facts.shelf_without(purpose)
    batch, certificates = with_certificates(planned, shelf)

    def keep() -> None:
        keep_sheet(folder, batch, name, replace=True)

    needs = charge_needs(charge_of(batch), bottles=filled)
    taken = bool(taken_for(facts, purpose))
    return BatchOnShelf(batch.title, purpose, needs, filled[0] if filled else 0, shelf, certificates, keep, taken)
