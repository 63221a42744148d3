"""The addresses by which pages change the stock, and its file to keep."""

import re
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from functools import partial

from flask import Flask, Response, request

from dashboard.bench.stock import batch_on_shelf
from dashboard.components.answers import as_json, as_text, guarded, request_body, sentence, told
from dashboard.components.entry import Once, id_of, text_of
from dashboard.live.app_state import AppState
from dashboard.server.http_server import MAX_BODY_BYTES
from monitor.runtime import SystemClock
from monitor.stock import (
    BOTTLE,
    BOUGHT,
    OPENED,
    Movement,
    StockError,
    add_movements,
    give_back,
    import_stock,
    item_name,
    lot_movement,
    movement_now,
    number,
    read_stock,
    table_text,
    take_for_batch,
    withdraw,
)

STOCK_FILE_PATH = "/stock.csv"
STOCK_PAGE_PATH = "/bench/stock"
IMPORT_PATH = "/stock/import"
# A phone's file; the server takes no larger request, and the command takes larger files.
MOST_IMPORT_BYTES = 48_000
_PERCENT = {"assay": (50, 100), "carbonate": (0, 20)}
# A comma before three figures is a thousand to one person and a fraction to another.
_DECIMAL_COMMA = re.compile(r"\d+,(\d{1,2}|\d{4,})|0,\d+")


def add_stock_routes(server: Flask, state: AppState) -> None:
    """Registers these addresses on ``server``."""
    once = Once()
    for path, view, method in (
        (STOCK_FILE_PATH, _file, "GET"),
        ("/stock/add", _add, "POST"),
        ("/stock/lot", _of_lot, "POST"),
        ("/stock/take-back", _take_back, "POST"),
        ("/stock/take", _take, "POST"),
        ("/stock/give-back", partial(_give_back, once=once), "POST"),
        (IMPORT_PATH, partial(_import, once=once), "POST"),
    ):
        server.add_url_rule(path, path, guarded(partial(view, state), _refusal), methods=[method])


def allow_file() -> None:
    """Lets a file be as large as the server takes, before anything reads the request's body."""
    if request.path == IMPORT_PATH:
        request.max_content_length = MAX_BODY_BYTES


def _file(state: AppState) -> Response:
    head = {"Content-Disposition": 'attachment; filename="stock.csv"'}
    return Response(table_text(read_stock(state.library.folder).movements), mimetype="text/csv", headers=head)


def _add(state: AppState) -> Response:
    asked = request_body()
    now, uid = SystemClock().now(), id_of(asked) or ""
    names = ("kind", "name", "lot", "amount", "price", "currency", "saponification_value", "bottle_ml", "note")
    cells = {name: _number_text(text_of(asked, name).strip()) for name in names}
    cells |= {name: _share_text(asked, name) for name in _PERCENT}
    cells["currency"] = cells["currency"].upper() if cells["price"] else ""
    if cells["kind"] == BOTTLE:
        cells["name"] = "bottle"
    one = movement_now({**cells, "id": uid, "movement": BOUGHT}, now)
    both = [one]
    if text_of(asked, "opened"):
        both.append(Movement(f"{uid}-open", now, OPENED, one.kind, one.name, one.lot, bottle_ml=one.bottle_ml))
    add_movements(state.library.folder, both)
    return _to(STOCK_PAGE_PATH, asked)


def _of_lot(state: AppState) -> Response:
    """Logs that a lot was opened, counted or partly thrown away."""
    asked = request_body()
    uid, movement = id_of(asked) or "", text_of(asked, "movement")
    facts = read_stock(state.library.folder)
    if any(one.id == uid for one in facts.movements):
        return _to(STOCK_PAGE_PATH, asked)
    kind, name, number_of_lot, bottle_ml = (text_of(asked, key) for key in ("kind", "name", "lot", "bottle_ml"))
    key = kind, item_name(kind, name), number(bottle_ml, "bottle_ml") if bottle_ml else None
    found = [lot for lot in facts.shelf.lots if lot.key == key and lot.lot.casefold() == number_of_lot.casefold()]
    if not found:
        raise StockError("there is no such lot on the shelf any more")
    amount = None if movement == OPENED else number(_number_text(text_of(asked, "amount").strip()), "amount")
    one = lot_movement(found[0], movement, amount, uid=uid, now=SystemClock().now())
    add_movements(state.library.folder, [one])
    return _to(STOCK_PAGE_PATH, asked)


def _take_back(state: AppState) -> Response:
    asked = request_body()
    withdraw(state.library.folder, text_of(asked, "entry"), now=SystemClock().now())
    return _to(STOCK_PAGE_PATH, asked)


def _take(state: AppState) -> Response:
    asked = request_body()
    on_shelf = batch_on_shelf(
        state,
        cook=text_of(asked, "cook"),
        sheet=text_of(asked, "sheet"),
        bottles=text_of(asked, "bottles"),
        bottle_ml=text_of(asked, "bottle_ml"),
    )
    take_for_batch(
        state.library.folder,
        on_shelf.needs,
        on_shelf.purpose,
        now=SystemClock().now(),
        partly=bool(text_of(asked, "partly")),
        uid=id_of(asked),
    )
    if on_shelf.certificates:
        on_shelf.keep_sheet()
    return _to(STOCK_PAGE_PATH, asked)


def _give_back(state: AppState, once: Once) -> Response:
    asked = request_body()

    def back() -> dict[str, object]:
        give_back(state.library.folder, text_of(asked, "batch"), now=SystemClock().now())
        return {"done": True}

    once.made(asked, back)
    return _to(STOCK_PAGE_PATH, asked)


def _import(state: AppState, once: Once) -> Response:
    asked = request_body()
    text = text_of(asked, "text")
    if not text.strip():
        raise StockError("choose a CSV file first")
    if len(text.encode()) > MOST_IMPORT_BYTES:
        raise StockError(
            f"the file has more than {MOST_IMPORT_BYTES // 1000} kB; import it with kettleside stock import"
        )

    def imported() -> dict[str, object]:
        new = import_stock(state.library.folder, text, now=SystemClock().now())
        return {"said": f"{len(new)} new movements."}

    once.made(asked, imported)
    return _to(STOCK_PAGE_PATH, asked)


def _to(path: str, asked: Mapping[str, object]) -> Response:
    """Leads to the page as it is now; ``back`` is the query with which it was seen."""
    query = text_of(asked, "back")
    return as_json({"to": f"{path}?{query}" if query else path})


def _number_text(text: str) -> str:
    """A number with a decimal comma as one with a point; anything else as it is.

    >>> _number_text("12,5"), _number_text("1,500"), _number_text("0,125"), _number_text("lot 7, red")
    ('12.5', '1,500', '0.125', 'lot 7, red')
    """
    return text.replace(",", ".") if _DECIMAL_COMMA.fullmatch(text) else text


def _share_text(asked: Mapping[str, object], name: str) -> str:
    """A percentage as a mass fraction. Raises StockError."""
    typed = text_of(asked, name).strip()
    if not typed:
        return ""
    low, high = _PERCENT[name]
    try:
        percent = Decimal(_number_text(typed))
    except InvalidOperation:
        percent = Decimal(-1)
    if not percent.is_finite() or not low <= percent <= high:
        raise StockError(f"the {name} is {typed[:20]!r}; it must be from {low} to {high} %")
    return f"{(percent / 100).normalize():f}"


def _refusal(error: Exception, status: int) -> Response:
    return as_text(sentence(error.why) if isinstance(error, StockError) else told(error), status)
