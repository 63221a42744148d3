"""The book of who may come in: paired phones and links to look by.

One file beside the recordings, read by its owner only. Several processes change it: each takes a lock, reads it anew
and puts a whole new file in its place, so that a reader never meets half of one.
"""

import json
import os
import secrets
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from threading import Lock

from monitor.runtime import MonitorError, locked, write_atomically
from monitor.storage import WatchedFolder

PLACE = ".kettleside"
MOST_GUESTS = 64
LONGEST_NAME = 60
# The book need not be written at every look of a phone.
SEEN_AGAIN_S = 600.0


class BookError(MonitorError):
    """The book of phones cannot be used. path: of its file. why: one clause."""

    def __init__(self, path: Path, why: str) -> None:
        self.path = path
        self.why = why
        super().__init__(f"The list of phones {path} cannot be used: {why}.")


@dataclass(frozen=True, slots=True)
class Guest:
    """A paired phone, or whoever follows a link to look by. Times in Unix seconds.

    looks_only: may see everything that a cook has to show, and change nothing. expires: None for a phone.
    """

    id: str
    name: str
    looks_only: bool
    made: float
    expires: float | None = None
    last_seen: float | None = None

    def is_welcome(self, now: float) -> bool:
        """Whether it may still come in."""
        return self.expires is None or now < self.expires


@dataclass(frozen=True, slots=True)
class _Page:
    guests: dict[str, Guest] = field(default_factory=dict)
    address: str = ""


class Book:
    """The book of one folder of recordings; in memory alone where ``folder`` is None. Thread-safe."""

    def __init__(self, folder: Path | None) -> None:
        self.path = None if folder is None else folder / PLACE / "phones.json"
        self._place = None if folder is None else WatchedFolder(folder)
        self._page = _Page()
        self._stamp: tuple[int, int, int] | None = None
        self._lock = Lock()

    def guests(self) -> list[Guest]:
        """Everyone in the book, who came first at the top."""
        return sorted(self._look().guests.values(), key=lambda guest: (guest.looks_only, guest.made))

    def guest(self, guest_id: str, now: float) -> Guest | None:
        """Who has this id, if still welcome."""
        found = self._look().guests.get(guest_id)
        return found if found is not None and found.is_welcome(now) else None

    def add(self, name: str, now: float, *, valid_s: float | None = None) -> Guest:
        """Takes a phone in; with ``valid_s`` a link to look by, which ends so many seconds from now."""
        guest = Guest(
            id=secrets.token_hex(4),
            name=tidy_name(name),
            looks_only=valid_s is not None,
            made=now,
            expires=None if valid_s is None else now + valid_s,
            last_seen=now if valid_s is None else None,
        )

        def added(page: _Page) -> _Page:
            kept = {each.id: each for each in page.guests.values() if each.is_welcome(now)}
            while len(kept) >= MOST_GUESTS:
                del kept[min(kept.values(), key=lambda each: each.last_seen or each.made).id]
            return replace(page, guests={**kept, guest.id: guest})

        self._change(added)
        return guest

    def rename(self, guest_id: str, name: str) -> None:
        """Gives a guest another name; one who has gone stays gone."""
        self._alter(guest_id, lambda guest: replace(guest, name=tidy_name(name)))

    def forget(self, guest_id: str) -> bool:
        """Takes a guest out of the book, from the next request on; False where there was none."""
        was = guest_id in self._look().guests

        def without(page: _Page) -> _Page:
            return replace(page, guests={key: each for key, each in page.guests.items() if key != guest_id})

        self._change(without)
        return was

    def seen(self, guest: Guest, now: float) -> None:
        """Takes note of a visit, now and then; a book that cannot be written goes without."""
        if guest.last_seen is None or now - guest.last_seen >= SEEN_AGAIN_S:
            with suppress(BookError):
                self._alter(guest.id, lambda each: replace(each, last_seen=now))

    @property
    def address(self) -> str:
        """Where the pages were last served, without the key; empty if never."""
        return self._look().address

    def served_at(self, address: str) -> None:
        """Keeps where the pages are served, for a command that invites a phone later."""
        self._change(lambda page: replace(page, address=address))

    def _alter(self, guest_id: str, change: Callable[[Guest], Guest]) -> None:
        def altered(page: _Page) -> _Page:
            guest = page.guests.get(guest_id)
            return page if guest is None else replace(page, guests={**page.guests, guest_id: change(guest)})

        self._change(altered)

    def _look(self) -> _Page:
        if self.path is None:
            return self._page
        try:
            status = os.stat(self.path)  # noqa: PTH116 (each request comes by here, and Path costs as much again)
        except FileNotFoundError:
            # Whoever was let in stays in while the folder is away.
            return self._page if self._is_away() else _Page()
        except OSError as error:
            raise _named(self.path, error) from None
        stamp = (status.st_ino, status.st_mtime_ns, status.st_size)
        with self._lock:
            if stamp != self._stamp:
                self._page, self._stamp = _read(self.path), stamp
            return self._page

    def _is_away(self) -> bool:
        return self._stamp is not None and self._place is not None and self._place.is_away()

    def _change(self, change: Callable[[_Page], _Page]) -> None:
        if self.path is None:
            with self._lock:
                self._page = change(self._page)
            return
        if self._is_away():
            # The folder is never made anew under the list.
            raise BookError(self.path, "its folder is away")
        try:
            self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            with locked(self.path.with_suffix(".lock"), 0o600):
                before = _read(self.path)
                after = change(before)
                if after != before:
                    _write(self.path, after)
        except OSError as error:
            raise _named(self.path, error) from None


def tidy_name(name: str) -> str:
    """A name of one short printable line.

    >>> tidy_name("  the\\nbig   tablet "), tidy_name("\\x00")
    ('the big tablet', 'Phone')
    """
    words = "".join(letter if letter.isprintable() else " " for letter in name).split()
    return " ".join(words)[:LONGEST_NAME] or "Phone"


def _read(path: Path) -> _Page:
    try:
        facts = json.loads(path.read_text(encoding="utf-8"))
        guests = [Guest(**each) for each in facts["guests"]]
        if not all(_is_sound(guest) for guest in guests):
            raise BookError(path, "it is damaged; take it away, and pair the phones again")
        return _Page({guest.id: guest for guest in guests}, str(facts["address"]))
    except FileNotFoundError:
        return _Page()
    except OSError as error:
        raise _named(path, error) from None
    except (ValueError, KeyError, TypeError, RecursionError):
        # Nobody comes in by a list that cannot be read, and nothing is written over it.
        raise BookError(path, "it is damaged; take it away, and pair the phones again") from None


def _is_sound(guest: Guest) -> bool:
    texts = isinstance(guest.id, str) and isinstance(guest.name, str) and isinstance(guest.looks_only, bool)
    moments = (guest.made, guest.expires or 0.0, guest.last_seen or 0.0)
    ends = guest.expires is not None or not guest.looks_only
    return texts and ends and all(isinstance(each, int | float) for each in moments)


def _write(path: Path, page: _Page) -> None:
    facts = {
        "guests": [asdict(guest) for guest in page.guests.values()],
        "address": page.address,
    }
    write_secret(path, json.dumps(facts, indent=1).encode())


def write_secret(path: Path, content: bytes) -> None:
    """Puts a file that only its owner may read in the place of ``path``, all of it or nothing. Raises OSError."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    path.parent.chmod(0o700)
    write_atomically(path, content)


def _named(path: Path, error: OSError) -> BookError:
    return BookError(path, (error.strerror or str(error)).lower())
