"""The file ``stock.csv`` of a recordings folder: every movement of the stock, added at its end and never changed."""

import re
import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from monitor.runtime import locked, read_bounded, write_atomically
from monitor.stock.movements import (
    RETURNED,
    TAKEN,
    WITHDRAWN,
    Movement,
    StockError,
    checked,
    movement_now,
    movement_of,
    standing,
    table_rows,
    table_text,
)
from monitor.stock.shelf import Allocation, Draw, Need, Shelf, allocate, shelf_from, shortages

FILE = "stock.csv"
LOCK = ".stock.lock"
MOST_BYTES = 8_000_000
_UNFIT = re.compile(r"[^A-Za-z0-9_-]+")


@dataclass(frozen=True, slots=True)
class StockFacts:
    """What the file says. movements: in its order. unread: a sentence for each line that is no movement."""

    movements: tuple[Movement, ...] = ()
    unread: tuple[str, ...] = ()

    @property
    def shelf(self) -> Shelf:
        """What is on the shelf now. Raises StockError where prices are in two currencies."""
        return shelf_from(self.movements)

    def shelf_without(self, batch: str) -> Shelf:
        """The shelf as it would be had this batch not taken anything. Raises StockError as ``shelf`` does."""
        return shelf_from([one for one in self.movements if one.batch.casefold() != batch.casefold()])

    def latest(self, most: int) -> list[Movement]:
        """The latest entries that can be taken back, the last first: what a batch took is given back instead."""
        return [one for one in standing(self.movements) if one.movement not in (TAKEN, RETURNED)][: -most - 1 : -1]


def read_stock(folder: Path) -> StockFacts:
    """The stock of the kitchen whose recordings are in this folder; empty where there is no file yet.

    A line that is no movement, as an editor or a loss of power may leave it, is passed over and told.
    Raises StockError for a file that cannot be used at all.
    """
    return _facts(_text(folder / FILE))


def add_movements(folder: Path, movements: Sequence[Movement]) -> tuple[Movement, ...]:
    """Adds movements, all of them or none, and returns those that are new: an id that is there counts once.

    Raises StockError for a movement that cannot be, a second currency, or a file that cannot be written.
    """
    wanted = [checked(one) for one in movements]
    with _locked_stock(folder) as path:
        return _append(path, wanted)


def take_for_batch(
    folder: Path, needs: Sequence[Need], batch: str, *, now: float, partly: bool = False, uid: str | None = None
) -> tuple[Allocation, ...]:
    """Takes what a batch needs off the shelf and returns from which lots.

    batch: what the batch is called, once for each. now: Unix seconds. partly: whether what is there is taken where
    something is short. uid: the entry's own id, so that a second try takes nothing more; made here if None.
    Raises StockError where the batch has taken already, where something is short, and as ``add_movements``.
    """
    if not batch.strip():
        raise StockError("say for which batch it is taken")
    with _locked_stock(folder) as path:
        facts = _facts(_text(path))
        prefix = _UNFIT.sub("-", uid or str(uuid.uuid4()))[:60]
        ids = {f"{prefix}-{n}" for n in range(len(facts.movements))}
        before = next((n for n, one in enumerate(facts.movements) if one.id in ids), None)
        if before is not None:
            # The same answer as to the first try.
            return allocate(shelf_from(facts.movements[:before]), needs)
        shelf = facts.shelf
        if not any(lot.left > 0 for lot in shelf.lots):
            raise StockError("the shelf is empty, so nothing can be taken from it")
        allocations = allocate(shelf, needs)
        if taken_for(facts, batch):
            raise StockError(f"{batch} has taken from the shelf already; give that back first")
        short = shortages(allocations)
        if short and not partly:
            raise StockError("; ".join(f"{one[0].lower()}{one[1:].rstrip('.')}" for one in short))
        draws = [draw for one in allocations for draw in one.draws]
        if not draws:
            raise StockError(f"nothing that {batch} needs is on the shelf")
        _append(path, [_taken(f"{prefix}-{n}", now, draw, batch) for n, draw in enumerate(draws)])
    return allocations


def _taken(uid: str, now: float, draw: Draw, batch: str) -> Movement:
    lot = draw.lot
    one = Movement(uid, now, TAKEN, lot.kind, lot.name, lot.lot, draw.amount, bottle_ml=lot.bottle_ml, batch=batch)
    return checked(one)


def taken_for(facts: StockFacts, batch: str) -> list[Movement]:
    """What a batch has taken and not given back, oldest first."""
    kept: list[Movement] = []
    for one in standing(facts.movements):
        if one.batch.casefold() == batch.casefold() and one.movement == TAKEN:
            kept.append(one)
        elif one.batch.casefold() == batch.casefold() and one.movement == RETURNED:
            kept = [each for each in kept if (each.kind, each.name, each.lot) != (one.kind, one.name, one.lot)]
    return kept


def give_back(folder: Path, batch: str, *, now: float) -> tuple[Movement, ...]:
    """Gives back to the shelf what a batch has taken. Raises StockError where it has taken nothing."""
    with _locked_stock(folder) as path:
        taken = taken_for(_facts(_text(path)), batch)
        if not taken:
            raise StockError(f"{batch} has taken nothing from the shelf")
        back = [replace(one, id=str(uuid.uuid4()), time=now, movement=RETURNED) for one in taken]
        return _append(path, back)


def withdraw(folder: Path, entry: str, *, now: float) -> Movement:
    """Takes an entry back, as if it had not been made, and returns it; asked twice it is taken back once.

    Raises StockError where there is none of this id, or it is what a batch took, which is given back instead.
    """
    with _locked_stock(folder) as path:
        facts = _facts(_text(path))
        one = next((one for one in facts.movements if one.id == entry and one.movement != WITHDRAWN), None)
        if one is None:
            raise StockError("there is no such entry")
        if one.movement in (TAKEN, RETURNED):
            raise StockError(f"{one.batch} took that; give it back instead")
        mark = replace(
            one,
            id=f"back-{entry}"[:80],
            time=now,
            movement=WITHDRAWN,
            amount=None,
            price=None,
            currency="",
            saponification_value=None,
            assay=None,
            carbonate=None,
            note=entry,
        )
        _append(path, [mark])
    return one


def import_stock(folder: Path, text: str, *, now: float) -> tuple[Movement, ...]:
    """Adds the movements of a CSV file, all of them or none; what is there already, by its id, counts once.

    A row without a time is of now, one without an id gets one. Raises StockError that names the line.
    """
    movements = []
    for line, cells in table_rows(text):
        try:
            cells = {**cells, "id": cells.get("id", "").strip() or str(uuid.uuid4())}
            movements.append(movement_of(cells) if cells.get("time", "").strip() else movement_now(cells, now))
        except StockError as error:
            raise StockError(f"line {line}: {error.why}") from None
    if not movements:
        raise StockError("there is no movement in that file")
    return add_movements(folder, movements)


@contextmanager
def _locked_stock(folder: Path) -> Iterator[Path]:
    """Holds the lock of a folder's stock for the length of a block, and gives the file. Raises StockError."""
    if not folder.is_dir():
        raise StockError(f"there is no folder {folder} to keep it in")
    try:
        with locked(folder / LOCK):
            yield folder / FILE
    except OSError as error:
        raise StockError(_reason(error)) from None


def _append(path: Path, wanted: Sequence[Movement]) -> tuple[Movement, ...]:
    """Adds what is new at the end of the file, whose lines stay as they are. The lock is held."""
    text = _text(path)
    facts = _facts(text)
    seen = {one.id for one in facts.movements}
    new: list[Movement] = []
    for one in wanted:
        if one.id not in seen:
            seen.add(one.id)
            new.append(one)
    if not new:
        return ()
    # Refused here and not by whoever looks next: a second currency.
    shelf_from([*facts.movements, *new])
    head, _, rows = table_text(new).partition("\n")
    if text.strip():
        first = text.removeprefix("\ufeff").splitlines()[0].strip()
        if first != head:
            raise StockError(f"the first row of {path.name} is not as it was written; it must be {head}")
        content = text if text.endswith("\n") else text + "\n"
    else:
        content = head + "\n"
    write_atomically(path, (content + rows).encode(), 0o644)
    return tuple(new)


def _text(path: Path) -> str:
    """The file's text, empty where there is none. Raises StockError."""
    try:
        return read_bounded(path, MOST_BYTES).decode()
    except FileNotFoundError:
        return ""
    except UnicodeDecodeError:
        raise StockError(f"{path.name} is not text in UTF-8") from None
    except OSError as error:
        raise StockError(f"{path.name}: {_reason(error)}") from None


def _facts(text: str) -> StockFacts:
    if not text.strip():
        return StockFacts()
    movements: dict[str, Movement] = {}
    unread = []
    for line, cells in table_rows(text):
        try:
            one = movement_of(cells)
            movements.setdefault(one.id, one)
        except StockError as error:
            unread.append(f"Line {line} of {FILE} is passed over: {error.why}.")
    return StockFacts(tuple(movements.values()), tuple(unread))


def _reason(error: OSError) -> str:
    return (error.strerror or str(error)).lower()
