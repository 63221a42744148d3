"""The addresses that the pages' scripts ask: what is new, a cook as of a moment, and what a person logs."""

import re
from collections.abc import Mapping
from threading import Lock

from flask import Flask, Response, current_app, request

from dashboard.answers import AskedError, as_json, as_text, guarded, request_body, told
from dashboard.board import Board, Mark
from dashboard.entry import id_of, ids_of_two, moment_of, number
from dashboard.facts import overview_of
from dashboard.replaying import known_at
from monitor.detection import Suggestion
from monitor.runtime import SystemClock
from monitor.session import CookLibrary, LiveCook
from monitor.storage import CookSummary

LONGEST_BODY = 16_384
# Beyond the words of a file name there is nothing to look for.
_NAME = re.compile(r"[\w][\w.\- ]{0,200}\Z")
USUAL_RIG = "cooker"
# An offer that moved further than this is another one.
SAME_OFFER_S = 300.0
DESK = "kettleside-desk"


class Desk:
    """The shelf as the pages use it: one thread at a time, one board a cook."""

    def __init__(self, shelf: CookLibrary) -> None:
        self.shelf = shelf
        self.lock = Lock()
        self._boards: dict[str, Board] = {}

    def cook(self, name: str) -> LiveCook:
        """The cook of this name, freshly looked at. Raises RecordingError."""
        if not _NAME.match(name):
            raise AskedError("There is no such cook.")
        cook = self.shelf.cook(name)
        cook.look()
        return cook

    def board(self, name: str) -> Board:
        """The board of this cook."""
        cook = self.cook(name)
        board = self._boards.get(name)
        if board is None or board.cook is not cook:
            # A board keeps its cook in memory, so none outlives the shelf's own.
            self._boards = {key: kept for key, kept in self._boards.items() if self.shelf.is_open(kept.cook)}
            board = self._boards[name] = Board(cook)
        return board

    def tidy(self) -> None:
        """Closes what nobody looks at any more; left for the next time while somebody is at the desk."""
        if self.lock.acquire(blocking=False):
            try:
                self.shelf.let_go()
            finally:
                self.lock.release()

    def running(self) -> list[CookSummary]:
        """The cook under way of each rig that has one, the one that began last first."""
        return self.shelf.running_summaries()

    def overview(self) -> list[dict[str, object]]:
        """What the list of running cooks says of each, those in danger first and then by the cookers' names.

        The keys are like those of ``facts``: ``rg`` is the cooker, ``ck`` the cook, ``du`` what is due first and when
        ([kind, Unix seconds] or null).
        """
        looks: list[dict[str, object]] = []
        for found in sorted(self.running(), key=lambda found: found.about.rig):
            cook = self.cook(found.path.stem)
            looks.append({"rg": found.about.rig, "ck": cook.name, "ti": cook.title(), **overview_of(cook)})
        return sorted(looks, key=lambda look: look["hd"] is None)

    def begin(self, after: str = "", sheet: str | None = None) -> LiveCook:
        """A new cook on the cooker of the cook ``after``, or if that is empty on the one that was used last.

        sheet: its batch sheet. Raises RecordingError, SheetError, or AskedError while a cook runs there: its logger
        would only take up the new one after the old one's end.
        """
        found = [found for found in self.shelf.cooks() if isinstance(found, CookSummary)]
        last = next((one for one in found if not after or one.path.stem == after), None)
        rig, source = (last.about.rig, last.about.source) if last else (USUAL_RIG, "")
        if any(one.about.rig == rig for one in self.running()):
            raise AskedError(f"A cook is running already on {rig}; finish it first.")
        return self.shelf.begin(rig, source, sheet, SystemClock())


def current_desk() -> Desk:
    """The desk of the application that is answering."""
    desk: Desk = current_app.extensions[DESK]
    return desk


def add_addresses(server: Flask, desk: Desk) -> None:
    """Registers the scripts' addresses on ``server``."""
    server.config["MAX_CONTENT_LENGTH"] = LONGEST_BODY

    def live() -> Response:
        name = request.args.get("cook", "")
        if not name:
            rig = request.args.get("rig")
            return as_json({"idle": not any(rig in (None, found.about.rig) for found in desk.running())})
        return as_json(desk.board(name).since(Mark.from_text(request.args.get("since", ""))))

    def at() -> Response:
        text = request.args.get("t", "")
        return as_json(known_at(desk.cook(request.args.get("cook", "")), number(text, "t") if text else None))

    def log() -> Response:
        asked = request_body()
        fields = asked.get("fields", {})
        if not isinstance(fields, dict):
            raise AskedError("fields must be names with values.")
        cook, kind, uid = desk.cook(str(asked.get("cook", ""))), str(asked.get("kind", "")), id_of(asked)
        before = None if uid is None else cook.logged(uid)
        event = before or cook.log_event(kind, moment_of(asked, cook, kind), fields, uid)
        return as_json({"uid": event.uid, "at": round(event.measured)})

    def back() -> Response:
        asked = request_body()
        # What was noticed and kept may have been two events, which go together.
        cook = desk.cook(str(asked.get("cook", "")))
        for uid in str(asked.get("uid", "")).split() or [""]:
            cook.take_back(uid)
        return as_json({"done": True})

    def keep() -> Response:
        asked = request_body()
        cook, uids = desk.cook(str(asked.get("cook", ""))), ids_of_two(asked)
        before = [event for event in map(cook.logged, uids) if event is not None]
        events = before or cook.keep(_offer(asked, cook), str(asked.get("noticed")), uids)
        return as_json({"uid": " ".join(event.uid for event in events), "at": round(events[0].measured)})

    def drop() -> Response:
        asked = request_body()
        cook, uid = desk.cook(str(asked.get("cook", ""))), id_of(asked)
        before = None if uid is None else cook.logged(uid)
        event = before or cook.drop(_offer(asked, cook), uid)
        return as_json({"uid": event.uid, "at": round(number(event.fields["at"], "at"))})

    def earlier() -> Response:
        asked = request_body()
        cook, own = desk.cook(str(asked.get("cook", ""))), id_of(asked)
        uid = str(asked.get("uid", ""))
        event = None if own is None else cook.logged(own)
        if event is None:
            before = next((event for event in cook.history().events if event.uid == uid), None)
            if before is None:
                raise AskedError("That was taken back already.")
            moment = before.measured - number(asked.get("by_s", 300), "by_s")
            event = cook.log_event(before.kind, moment, before.fields, own)
        # Also at the second arrival: the first may have ended in between.
        cook.take_back(uid)
        return as_json({"uid": event.uid, "at": round(event.measured)})

    def begin() -> Response:
        return as_json({"cook": desk.begin(str(request_body().get("cook") or "")).name})

    def all_running() -> Response:
        return as_json({"cooks": desk.overview()})

    for path, view, method in (
        ("/live", live, "GET"),
        ("/live-all", all_running, "GET"),
        ("/at", at, "GET"),
        ("/log", log, "POST"),
        ("/back", back, "POST"),
        ("/earlier", earlier, "POST"),
        ("/keep", keep, "POST"),
        ("/drop", drop, "POST"),
        ("/begin", begin, "POST"),
    ):
        server.add_url_rule(path, path, guarded(view, _refusal, desk.lock), methods=[method])


def _offer(asked: Mapping[str, object], cook: LiveCook) -> Suggestion:
    """What a phone answers of what was noticed: the nearest of that kind, for its moment moves as more is known."""
    at, kind = number(asked.get("at"), "at"), asked.get("noticed")
    own = [
        one
        for one in cook.offered_suggestions()
        if kind in (one.kind, *one.answers) and abs(one.at - at) <= SAME_OFFER_S
    ]
    if not own:
        raise AskedError("That has been answered already.")
    return min(own, key=lambda one: abs(one.at - at))


def _refusal(error: Exception, status: int) -> Response:
    return as_text(told(error), status)
