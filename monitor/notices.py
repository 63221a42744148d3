"""Telling people what is due and what is wrong, each thing once."""

import json
from collections.abc import Callable, Set
from dataclasses import dataclass
from threading import Event
from typing import Protocol

from monitor.clock import Clock
from monitor.conditions.states import ACKNOWLEDGED, UNACKNOWLEDGED
from monitor.progress.outlook import Outlook
from monitor.recording import RecordingError
from monitor.say import Level, Say
from monitor.view import Cook, Shelf
from monitor.words import clock_time

LOOK_EVERY_S = 3.0
LOOK_IDLE_S = 10.0
PUBLISH_EVERY_S = 10.0
# A due time is an estimate that wanders; only one this far ahead is a new one.
NEW_AFTER_S = 120.0
STIR = "stir due"
CHECK = "check due"


@dataclass(frozen=True, slots=True)
class Notice:
    """Something to tell. name: what is due or wrong. words: one sentence. at: cook time in Unix seconds."""

    name: str
    words: str
    at: float


def _dues(outlook: Outlook) -> list[tuple[str, float | None, str]]:
    return [
        (STIR, outlook.stir_due, outlook.reasons.get("stir", "")),
        (CHECK, outlook.check_due, outlook.reasons.get("check", "")),
    ]


def due_notices(outlook: Outlook, already_told: Set[str]) -> list[Notice]:
    """What is due or wrong at the outlook's moment and has not been told yet."""
    found = [
        Notice(name, words, outlook.t) for name, due, words in _dues(outlook) if due is not None and due <= outlook.t
    ]
    found += [
        Notice(condition.name, condition.words, outlook.t)
        for condition in outlook.conditions
        if condition.state == UNACKNOWLEDGED
    ]
    return [notice for notice in found if notice.name not in already_told]


def still_told(outlook: Outlook, told: Set[str]) -> frozenset[str]:
    """Of what was told, what need not be told again: it still stands, or is about to fall due once more."""
    standing = {name for name, due, _ in _dues(outlook) if due is not None and due <= outlook.t + NEW_AFTER_S}
    # One that went away or was put aside is told again when it is back.
    standing |= {c.name for c in outlook.conditions if c.state in (UNACKNOWLEDGED, ACKNOWLEDGED)}
    return frozenset(told) & standing


class Publisher(Protocol):
    """Where outlooks and notices go besides the terminal."""

    def tend(self) -> None:
        """Keeps the connection; called every few seconds."""
        ...

    def publish(self, topic: str, payload: str, *, retained: bool = False) -> None:
        """Sends a message now, or when the connection is back."""
        ...

    def close(self) -> None:
        """Lets go of the connection."""
        ...


class Teller:
    """Looks at the running cook of one rig and tells what is due.

    tell: takes one line for a person. publisher: also takes it as MQTT has it (interfaces, section 1), or None.
    """

    def __init__(
        self, shelf: Shelf, rig: str, clock: Clock, tell: Callable[[str], None], publisher: Publisher | None
    ) -> None:
        self._shelf = shelf
        self._rig = rig
        self._clock = clock
        self._tell = tell
        self._publisher = publisher
        self._told: frozenset[str] = frozenset()
        self._cook_name: str | None = None
        self._published: str | None = None
        self._published_s: float | None = None

    def look(self) -> bool:
        """One look; whether a cook is under way. Raises RecordingError."""
        cook = self._shelf.running(self._rig)
        if self._publisher is not None:
            self._publisher.tend()
        if cook is None:
            self._told, self._cook_name = frozenset(), None
            self._publish_outlook("")
            return False
        self._look_at(cook)
        return True

    def _look_at(self, cook: Cook) -> None:
        if cook.name != self._cook_name:
            self._told, self._cook_name = frozenset(), cook.name
        outlook = cook.outlook()
        self._told = still_told(outlook, self._told)
        for notice in due_notices(outlook, self._told):
            self._told |= {notice.name}
            self._tell(f"{clock_time(notice.at)} {self._rig}: {notice.name}. {notice.words}")
            if self._publisher is not None:
                payload = {"t": round(notice.at, 1), "notice": notice.name}
                self._publisher.publish(f"kettleside/{self._rig}/notice", json.dumps(payload))
        self._publish_outlook(json.dumps(outlook.as_json()))

    def _publish_outlook(self, payload: str) -> None:
        now_s = self._clock.real_s()
        recent = self._published_s is not None and now_s - self._published_s < PUBLISH_EVERY_S
        if self._publisher is None or payload == self._published or (recent and payload):
            return
        # An empty retained message takes the last outlook away when the cook is over (MQTT 3.1.1 section 3.3.1.3).
        if payload or self._published:
            self._publisher.publish(f"kettleside/{self._rig}/outlook", payload, retained=True)
            self._published, self._published_s = payload, now_s


def run_notices(teller: Teller, say: Say, stop: Event) -> None:
    """Tells what is due until ``stop`` is set; a recording that cannot be read is said once and looked at again."""
    trouble = ""
    while not stop.is_set():
        under_way = False
        try:
            under_way = teller.look()
            trouble = ""
        except RecordingError as error:
            if str(error) != trouble:
                trouble = str(error)
                say(trouble, Level.WARNING)
        stop.wait(LOOK_EVERY_S if under_way else LOOK_IDLE_S)
