"""The bench's addresses: its pages, the sums as they are typed, and what is kept of them in the cook's record."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import MappingProxyType

from flask import Flask, Response, request

from dashboard import bench_after, bench_charge, bench_jar, bench_paste, bench_pot
from dashboard.answers import AskedError, as_json, guarded, refused, rendered, request_body, told
from dashboard.app_state import AppState
from dashboard.bench_form import FieldError, Form
from dashboard.bench_keep import SavedEntry, keep, known, log_weighed
from dashboard.bench_oils import oil_lines
from dashboard.bench_words import Answer
from dashboard.entry import id_of
from dashboard.record import record_of
from monitor.chemistry import all_oils, other_names
from monitor.formulation import (
    ACID_STRENGTH,
    CLARITY_LOOKS,
    OUNCE_G,
    PASTE_STEPS,
    SETTLING_DAYS,
    TITRATION_STEPS,
    last_ph,
    last_titration,
    settling_plan,
    sheet_text,
    thickener_names,
)
from monitor.model import Batch, Event
from monitor.runtime import MonitorError, SystemClock
from monitor.session import Cook, kitchen_ph_offset
from monitor.storage import CookSummary

# In the order of the work. Name in the address -> (what the page is called, what it is for).
PAGES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "charge": ("Weigh the charge", "Oils, potassium hydroxide and water"),
        "oils": ("Oils table", "Ranges, sources, and how each row was seen"),
        "sample": ("Clarity sample", "Boiling water for a spoon of paste, and what is seen"),
        "paste": ("Paste sample in the cook", "A gram of paste, titrated: how much alkali is still free"),
        "dilute": ("Dilute", "Water for a strength"),
        "neutralise": ("Neutralise", "Titration or pH, what to add and when to stop"),
        "jar": ("Jar test", "Portions of stock in a jar, and the pot's dose"),
        "thicken": ("Thicken", "Salt portions in a jar, and where it is thickest"),
        "bottle": ("Settle and bottle", "A reminder, additions, bottles"),
        "label": ("Label", "Ingredients, lot and date"),
    }
)


@dataclass(frozen=True, slots=True)
class Asked:
    """What a page sent. cook: the one it works on, or None. recordings: the kitchen's folder."""

    sum: str
    form: Form
    cook: Cook | None
    recordings: Path

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


def add_bench(server: Flask, state: AppState) -> None:
    """Registers the bench's pages and addresses on ``server``."""
    for path, view, method in (
        ("/bench", _bench, "GET"),
        ("/bench/<name>", _bench_page, "GET"),
        ("/bench/work", _work, "POST"),
        ("/bench/keep", _save, "POST"),
        ("/bench/sheet", _sheet, "POST"),
        ("/bench/begin", _begin, "POST"),
        ("/bench/settling.ics", _reminder, "GET"),
        ("/record/<name>", _record, "GET"),
    ):
        server.add_url_rule(path, path, guarded(partial(view, state), _refusal, state.lock), methods=[method])


def _bench(state: AppState) -> Response:
    return _page("bench.html", state, request.args.get("cook"), pages=PAGES)


def _bench_page(state: AppState, name: str) -> Response:
    if name not in PAGES:
        return refused("bench_refusal.html", "There is no such page.", 404)
    facts: dict[str, object] = {
        "name": name,
        "heading": PAGES[name][0],
        "oils": sorted({each for row in all_oils() for each in (row.name, *other_names(row))}),
        "reagents": bench_pot.reagent_names(),
        "stock_reagents": bench_jar.stock_reagents(),
        "thickeners": thickener_names(),
        "looks": CLARITY_LOOKS,
        "titration_how": TITRATION_STEPS,
        "acid_strength": ACID_STRENGTH,
        "paste_how": PASTE_STEPS,
    }
    if name == "oils":
        asked = request.args.get("q", "")[:60].strip()
        facts |= {"asked": asked, "rows": oil_lines(asked), "every": len(all_oils())}
    return _page(f"bench_{name}.html", state, request.args.get("cook"), new=name == "charge", **facts)


def _work(state: AppState) -> Response:
    return as_json(_worked(_asked(state)).as_json())


def _save(state: AppState) -> Response:
    asked = _asked(state)
    if asked.cook is None:
        raise AskedError("There is no cook to write this to: start one first.")
    sent = request_body()
    pot = None if asked.batch is None else asked.made
    kept: SavedEntry = keep(str(sent.get("keep")), asked.form, asked.cook, pot, id_of(sent))
    try:
        look: dict[str, object] = _worked(_asked(state)).as_json()
    except MonitorError:
        # It is kept all the same; the page asks again and shows the refusal where it belongs.
        look = {}
    return as_json({"kept": kept.words, "uid": kept.uid, "clear": kept.clear, "cook": asked.cook.name, **look})


def _sheet(state: AppState) -> Response:
    text = sheet_text(bench_charge.batch_of(_asked(state).form, None))
    return as_json({"sheet": text})


def _begin(state: AppState) -> Response:
    form = _asked(state).form
    cook = state.begin(sheet=sheet_text(bench_charge.batch_of(form, None)))
    log_weighed(form, cook)
    return as_json({"cook": cook.name})


def _reminder(state: AppState) -> Response:
    found = state.cook(request.args.get("cook", ""))
    days = Form(request.args.to_dict()).number("days", "Days", 1.0, 60.0, empty=SETTLING_DAYS)
    ended = found.finished()
    text = settling_plan(SystemClock().now() if ended is None else ended, found.title(), days).calendar
    head = {"Content-Disposition": 'attachment; filename="settling.ics"'}
    return Response(text, mimetype="text/calendar", headers=head)


def _record(state: AppState, name: str) -> Response:
    return rendered("record.html", record=record_of(state.cook(name)))


def _asked(state: AppState) -> Asked:
    body = request_body()
    fields = body.get("form", {})
    if not isinstance(fields, dict):
        raise AskedError("The form must be fields with values.")
    name = str(body.get("cook") or "")
    form = Form(fields, ounces=body.get("unit") == "oz")
    return Asked(str(body.get("sum", "")), form, state.cook(name) if name else None, state.library.folder)


def _worked(asked: Asked) -> Answer:
    form, batch = asked.form, asked.batch
    if asked.sum == "charge":
        return bench_charge.answer(form)
    if asked.sum == "sample":
        return bench_after.sample_answer(form)
    if asked.sum == "paste":
        return bench_paste.paste_answer(form, asked.made())
    if asked.sum == "dilute":
        return bench_pot.dilution_answer(form, asked.made())
    if asked.sum == "neutralise":
        return bench_pot.neutralising_answer(form, asked.made(), kitchen_ph_offset(asked.recordings))
    if asked.sum in bench_jar.PAGES:
        return bench_jar.answer(form, asked.sum, asked.events, asked.made)
    if asked.sum == "bottle":
        return bench_after.bottles_answer(form, asked.made() if batch and batch.oils else None)
    if asked.sum == "label":
        return bench_after.label_answer(form, asked.made(), batch.title if batch else "", batch.lot if batch else "")
    raise AskedError(f"There is no sum called {asked.sum[:40]!r}; there are {', '.join(PAGES)}.")


def _page(template: str, state: AppState, wanted: str | None, *, new: bool = False, **facts: object) -> Response:
    """A page of the cook wanted, else of the latest.

    new: while none is running, a page that nobody asked of a cook is of the next one, with the latest one's sheet to
    begin from and nothing weighed yet.
    """
    found = [each for each in state.library.cooks() if isinstance(each, CookSummary)]
    running = state.running()
    latest = next((each.path.stem for each in (*running, *found)), None)
    name = wanted or latest
    cook = state.cook(name) if name else None
    history = None if cook is None else known(cook)
    batch = None if history is None else history.batch
    events = () if history is None else history.events
    if new and wanted is None and not running:
        cook, batch, events = None, None if batch is None else bench_charge.planned_anew(batch), ()
    return rendered(
        template,
        cook=cook,
        batch=batch,
        running=bool(running),
        weighed={} if batch is None else bench_charge.still_weighed(batch, events),
        cook_title=batch.title if batch else cook and cook.rig,
        others=[
            (each.path.stem, each.title, round(each.about.started))
            for each in found
            if each.path != (cook and cook.path)
        ],
        read=last_ph(events),
        run_in=last_titration(events),
        jar=bench_jar.last_jar(events, "jar neutralised"),
        thickened=bench_jar.last_jar(events, "jar thickened"),
        ounce_g=OUNCE_G,
        **facts,
    )


def _refusal(error: Exception, status: int) -> Response:
    if request.method == "POST":
        field = error.field if isinstance(error, FieldError) else ""
        return as_json({"error": told(error), "field": field}, status)
    return refused("bench_refusal.html", told(error), status)
