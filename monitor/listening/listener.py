"""Listens to whatever arrives, and proposes how to read it. Pure: messages go in, findings come out."""

import re
import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from monitor.listening.finding import MOVED_C, FoundChannel, PlaceFinding, finding
from monitor.listening.heard import Heard
from monitor.listening.place import PlaceHistory
from monitor.sources import SourceUrl

# More topics than any kitchen has; beyond them only those that may be a probe's are taken, for others.
MOST_PLACES = 500
LONGEST_PLACE = 500
# What the monitor itself publishes.
_OWN_TOPIC = re.compile(r"kettleside/[^/]+/(outlook|notice|monitor|status)")
USUAL_RIG = "cooker"
_FURTHER = ("wall", "room", "ph")


@dataclass(frozen=True, slots=True)
class Proposal:
    """How one cooker is read. sources: their URLs, the paste's first. renamings: as ``--as`` has them.

    reasons, doubts: sentences for a person.
    """

    sources: tuple[str, ...]
    renamings: tuple[str, ...]
    reasons: tuple[str, ...]
    doubts: tuple[str, ...]

    def command(self, name: str = "log", rig: str | None = None) -> str:
        """The command line for a shell.

        name: ``log``, or ``start``, which runs the page and the notices too. rig: the cooker's name, None for the
        usual one.
        """
        in_front = f"{rig or USUAL_RIG}=" if name == "start" and (rig is not None or len(self.sources) > 1) else ""
        words = ["kettleside", name]
        for source in self.sources:
            words += ["--source", f"{in_front}{source}"]
        if rig is not None and not in_front:
            words += ["--rig", rig]
        for renaming in self.renamings:
            words += ["--as", renaming]
        return " ".join(map(shlex.quote, words))


class Listener:
    """Fed with what is heard, it tells at any time what each topic or port sends and how to read it.

    listened: the URL that is listened to, whose address and connection options the proposed sources share.
    Its memory is bounded, whatever arrives.

    >>> from monitor.sources import parse_source_url
    >>> listener = Listener(parse_source_url("mqtt://broker"))
    >>> listener.hear(Heard("home/probe", b'{"temperature": 93.5, "battery": 80}', arrived=0.0))
    >>> [(one.place, one.channels[0].channel, one.channels[0].unit) for one in listener.findings()]
    [('home/probe', 'paste', 'degC')]
    >>> listener.proposal().sources
    ('mqtt://broker/home/probe?field=temperature:paste:degC',)
    """

    def __init__(self, listened: SourceUrl) -> None:
        self._listened = listened
        self._places: dict[str, PlaceHistory] = {}
        # Places that nothing useful came from, the oldest first; a dict, because it keeps their order.
        self._useless: dict[str, None] = {}
        self._options: dict[str, dict[str, str]] = {}
        self.messages = 0
        self.passed_over = 0

    def hear(self, heard: Heard) -> None:
        """Takes account of one message or line."""
        self.messages += 1
        place = self._places.get(heard.place)
        if place is None:
            place = PlaceHistory(heard.place)
            place.note(heard)
            if not self._has_room_for(place):
                self.passed_over += 1
                return
            self._places[heard.place] = place
            self._useless[heard.place] = None
        elif not place.note(heard):
            return
        if heard.place in self._useless and place.is_useful:
            del self._useless[heard.place]

    def _has_room_for(self, place: PlaceHistory) -> bool:
        if len(place.place) > LONGEST_PLACE or not place.place.isprintable() or _OWN_TOPIC.fullmatch(place.place):
            return False
        if len(self._places) < MOST_PLACES:
            return True
        if not self._useless or not place.is_useful:
            return False
        oldest = next(iter(self._useless))
        del self._useless[oldest], self._places[oldest]
        return True

    def set_options(self, place: str, options: Mapping[str, str]) -> None:
        """Options of the connection to this port, such as the speed at which it was understood."""
        self._options[place] = dict(options)

    def findings(self) -> tuple[PlaceFinding, ...]:
        """What each topic or port sends, those with a temperature first, then by name."""
        found = self._found(needs_paste=False)
        if not any(one.channel("paste") for one in found):
            found = self._found(needs_paste=True)
        return tuple(sorted(found, key=lambda one: (not one.is_temperature, one.source is None, one.place)))

    def _found(self, *, needs_paste: bool) -> list[PlaceFinding]:
        return [
            finding(place, self._listened, self._options.get(name, {}), needs_paste=needs_paste)
            for name, place in self._places.items()
        ]

    def proposal(self) -> Proposal | None:
        """How the cooker that is probably meant is read; None where no temperature was heard."""
        return proposal(self.findings())


def proposal(findings: Sequence[PlaceFinding]) -> Proposal | None:
    """The paste from one topic or port, and from others what their names say plainly: wall, room and pH."""
    pastes = [(one, channel) for one in findings if (channel := one.channel("paste")) is not None]
    if not pastes:
        return None
    chosen, paste = max(pastes, key=lambda pair: _likelihood(*pair))
    used, names = [chosen], {channel.channel for channel in chosen.channels}
    for name in _FURTHER:
        others = [one for one in findings if one.channel(name) is not None and one.channel("paste") is None]
        if name not in names and len(others) == 1 and names.isdisjoint(one.channel for one in others[0].channels):
            used.append(others[0])
            names |= {one.channel for one in others[0].channels}
    reasons = [
        f"{one.label(channel.path) or one.place} is read as {channel.channel}{_in(channel.unit)}: {channel.reason}."
        for one in used
        for channel in one.channels
    ]
    doubts = [channel.doubt for one in used for channel in one.channels if channel.doubt]
    if len(pastes) > 1 and not paste.by_name and paste.moved_c < MOVED_C:
        doubts.append(
            f"{len(pastes)} places send a temperature: hold the paste's probe in your hand while this listens, and the "
            "one that moves is taken."
        )
    renamings = tuple(dict.fromkeys(text for one in used for text in one.renamings))
    sources = tuple(one.source for one in used if one.source is not None)
    return Proposal(sources, renamings, tuple(reasons), tuple(doubts))


def _in(unit: str) -> str:
    return f" in {unit}" if unit else ""


def _likelihood(found: PlaceFinding, paste: FoundChannel) -> tuple[bool, bool, float, bool, float]:
    """How likely this is the paste: by its name, by its movement, then by its heat."""
    moved_c = paste.moved_c if paste.moved_c >= MOVED_C else 0.0
    return paste.by_name, paste.named, moved_c, found.retained < found.count, paste.celsius or 0.0
