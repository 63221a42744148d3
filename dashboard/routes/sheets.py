"""The addresses by which a batch sheet is kept, removed, and taken for a cook."""

from collections.abc import Callable, Mapping
from functools import partial
from typing import TypeAlias
from urllib.parse import quote

from flask import Flask, Response

from dashboard.bench.form import FieldError
from dashboard.bench.plan import planned
from dashboard.bench.work import asked_of
from dashboard.components.answers import as_json, guarded, request_body, told
from dashboard.components.entry import Once, text_of
from dashboard.live.app_state import AppState
from monitor.formulation import sheet_text
from monitor.storage import keep_sheet, read_kept_sheet, remove_sheet

Asked: TypeAlias = Mapping[str, object]
Maker: TypeAlias = Callable[[AppState, Asked], dict[str, object]]


def add_sheet_routes(server: Flask, state: AppState) -> None:
    """Registers these addresses on ``server``; each makes what it makes once for the id of a request."""
    for word, make in (("keep", _keep), ("remove", _remove), ("begin", _begin), ("take", _take)):
        path, once = f"/bench/sheets/{word}", Once()

        def view(once: Once = once, make: Maker = make) -> Response:
            asked = request_body()
            return as_json(once.made(asked, partial(make, state, asked)))

        server.add_url_rule(path, path, guarded(view, _refusal, state.lock), methods=["POST"])


def _keep(state: AppState, sent: Asked) -> dict[str, object]:
    """Keeps what is planned."""
    asked = asked_of(state, sent)
    form, batch = asked.form, planned(asked.form, asked.base).batch
    if not form.text("title", "Title", 200):
        raise form.refuse("title", "the batch has no title yet; write the one by which you will find it")
    path = keep_sheet(state.library.folder, batch, replace=form.ticked("replace"))
    return {"kept": batch.title, "to": f"/bench/sheets/{path.stem}"}


def _remove(state: AppState, sent: Asked) -> dict[str, object]:
    remove_sheet(state.library.folder, text_of(sent, "sheet"))
    return {"to": "/bench/sheets"}


def _begin(state: AppState, sent: Asked) -> dict[str, object]:
    """A new cook with a kept sheet, on the cooker that was used last."""
    cook = state.begin(sheet=_sheet_asked(state, sent))
    return {"cook": cook.name, "to": f"/?cook={quote(cook.name)}"}


def _take(state: AppState, sent: Asked) -> dict[str, object]:
    """A kept sheet becomes that of a cook under way."""
    cook = state.cook(text_of(sent, "cook"))
    cook.put_sheet(_sheet_asked(state, sent))
    return {"cook": cook.name, "to": f"/?cook={quote(cook.name)}"}


def _sheet_asked(state: AppState, sent: Asked) -> str:
    return sheet_text(read_kept_sheet(state.library.folder, text_of(sent, "sheet")))


def _refusal(error: Exception, status: int) -> Response:
    field = error.field if isinstance(error, FieldError) else ""
    return as_json({"error": told(error), "field": field}, status)
