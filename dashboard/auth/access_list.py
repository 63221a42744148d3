"""The access list of a folder of recordings: paired phones and view-only links.

It is one JSON file beside the recordings that only its owner may read. Several processes change it: each takes a lock,
reads the file again and replaces it as a whole, so that a reader never sees half a file.
"""

import json
import os
import secrets
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from threading import Lock

from monitor.runtime import MonitorError, locked, write_atomically
from monitor.storage import WatchedFolder

STATE_FOLDER = ".kettleside"
MAX_GRANTS = 64
MAX_NAME_LENGTH = 60
# A phone asks every second or two; the file need not be written each time.
LAST_SEEN_STEP_S = 600.0
_DAMAGED = "it is damaged; take it away, and pair the phones again"


class AccessListError(MonitorError):
    """The access list cannot be used. path: of its file. why: one clause."""

    def __init__(self, path: Path, why: str) -> None:
        self.path = path
        self.why = why
        super().__init__(f"The list of phones {path} cannot be used: {why}.")


@dataclass(frozen=True, slots=True)
class AccessGrant:
    """A paired phone, or a view-only link. Times in Unix seconds.

    view_only: whether it may see all of a cook and change nothing. expires: None for a paired phone.
    """

    id: str
    name: str
    view_only: bool
    created: float
    expires: float | None = None
    last_seen: float | None = None

    def is_valid(self, now: float) -> bool:
        """Whether it has not expired."""
        return self.expires is None or now < self.expires


@dataclass(frozen=True, slots=True)
class _Contents:
    grants: dict[str, AccessGrant] = field(default_factory=dict)
    address: str = ""


class AccessList:
    """The access list of one folder of recordings; in memory alone where ``folder`` is None. Thread-safe."""

    def __init__(self, folder: Path | None) -> None:
        self.path = None if folder is None else folder / STATE_FOLDER / "phones.json"
        self._folder = None if folder is None else WatchedFolder(folder)
        self._contents = _Contents()
        self._file_version: tuple[int, int, int] | None = None
        self._lock = Lock()

    def grants(self) -> list[AccessGrant]:
        """All grants, also those that have expired: phones before links, each in the order of their creation."""
        return sorted(self._load().grants.values(), key=lambda grant: (grant.view_only, grant.created))

    def grant(self, grant_id: str, now: float) -> AccessGrant | None:
        """The grant with this id, or None where there is none or it has expired."""
        grant = self._load().grants.get(grant_id)
        return grant if grant is not None and grant.is_valid(now) else None

    def add(self, name: str, now: float, *, valid_s: float | None = None) -> AccessGrant:
        """Adds a paired phone, or with ``valid_s`` a view-only link that expires after this many seconds.

        Expired grants are removed. A full list loses the grant that was not used for the longest time.
        """
        grant = AccessGrant(
            id=secrets.token_hex(4),
            name=tidy_name(name),
            view_only=valid_s is not None,
            created=now,
            expires=None if valid_s is None else now + valid_s,
            last_seen=now if valid_s is None else None,
        )

        def added(contents: _Contents) -> _Contents:
            valid = {each.id: each for each in contents.grants.values() if each.is_valid(now)}
            while len(valid) >= MAX_GRANTS:
                del valid[min(valid.values(), key=lambda each: each.last_seen or each.created).id]
            return replace(contents, grants={**valid, grant.id: grant})

        self._change(added)
        return grant

    def rename(self, grant_id: str, name: str) -> None:
        """Changes the name of a grant; does nothing where it was revoked meanwhile."""
        self._alter(grant_id, lambda grant: replace(grant, name=tidy_name(name)))

    def revoke(self, grant_id: str) -> bool:
        """Removes a grant, with effect from the next request on; False where there was none."""
        existed = grant_id in self._load().grants

        def without(contents: _Contents) -> _Contents:
            return replace(contents, grants={key: each for key, each in contents.grants.items() if key != grant_id})

        self._change(without)
        return existed

    def record_visit(self, grant: AccessGrant, now: float) -> None:
        """Updates when a grant was last used, at most every ten minutes; a list that cannot be written stays as is."""
        if grant.last_seen is None or now - grant.last_seen >= LAST_SEEN_STEP_S:
            with suppress(AccessListError):
                self._alter(grant.id, lambda each: replace(each, last_seen=now))

    @property
    def address(self) -> str:
        """The address at which the pages were last served, without the key; empty if never."""
        return self._load().address

    def record_address(self, address: str) -> None:
        """Stores the address at which the pages are served, for a command that invites a phone later."""
        self._change(lambda contents: replace(contents, address=address))

    def _alter(self, grant_id: str, change: Callable[[AccessGrant], AccessGrant]) -> None:
        def altered(contents: _Contents) -> _Contents:
            grant = contents.grants.get(grant_id)
            return contents if grant is None else replace(contents, grants={**contents.grants, grant_id: change(grant)})

        self._change(altered)

    def _load(self) -> _Contents:
        """What the file holds, read again only where it has changed. Raises AccessListError."""
        if self.path is None:
            return self._contents
        try:
            status = os.stat(self.path)  # noqa: PTH116 (each request comes by here, and Path costs as much again)
        except FileNotFoundError:
            # Paired phones stay paired while the folder is away.
            return self._contents if self._is_away() else _Contents()
        except OSError as error:
            raise _system_error(self.path, error) from None
        version = (status.st_ino, status.st_mtime_ns, status.st_size)
        with self._lock:
            if version != self._file_version:
                self._contents, self._file_version = _read(self.path), version
            return self._contents

    def _is_away(self) -> bool:
        return self._file_version is not None and self._folder is not None and self._folder.is_away()

    def _change(self, change: Callable[[_Contents], _Contents]) -> None:
        if self.path is None:
            with self._lock:
                self._contents = change(self._contents)
            return
        if self._is_away():
            # An empty folder must not be created where the real one is only unmounted.
            raise AccessListError(self.path, "its folder is away")
        try:
            self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            with locked(self.path.with_suffix(".lock"), 0o600):
                before = _read(self.path)
                after = change(before)
                if after != before:
                    _write(self.path, after)
        except OSError as error:
            raise _system_error(self.path, error) from None


def tidy_name(name: str) -> str:
    """A name of one short printable line.

    >>> tidy_name("  the\\nbig   tablet "), tidy_name("\\x00")
    ('the big tablet', 'Phone')
    """
    words = "".join(character if character.isprintable() else " " for character in name).split()
    return " ".join(words)[:MAX_NAME_LENGTH] or "Phone"


def _read(path: Path) -> _Contents:
    try:
        stored = json.loads(path.read_text(encoding="utf-8"))
        grants = [_from_json(each) for each in stored["guests"]]
        if not all(_is_well_formed(grant) for grant in grants):
            raise AccessListError(path, _DAMAGED)
        return _Contents({grant.id: grant for grant in grants}, str(stored["address"]))
    except FileNotFoundError:
        return _Contents()
    except OSError as error:
        raise _system_error(path, error) from None
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        # A list that cannot be read admits nobody, and nothing is written over it.
        raise AccessListError(path, _DAMAGED) from None


def _from_json(stored: dict[str, object]) -> AccessGrant:
    # The file keeps the keys of its first version.
    fields: dict[str, object] = {_FIELDS.get(key, key): value for key, value in stored.items()}
    return AccessGrant(**fields)  # type: ignore[arg-type]


def _to_json(grant: AccessGrant) -> dict[str, object]:
    return {
        "id": grant.id,
        "name": grant.name,
        "looks_only": grant.view_only,
        "made": grant.created,
        "expires": grant.expires,
        "last_seen": grant.last_seen,
    }


_FIELDS = {"looks_only": "view_only", "made": "created"}


def _is_well_formed(grant: AccessGrant) -> bool:
    texts = isinstance(grant.id, str) and isinstance(grant.name, str) and isinstance(grant.view_only, bool)
    times = (grant.created, grant.expires or 0.0, grant.last_seen or 0.0)
    has_expiry_if_needed = grant.expires is not None or not grant.view_only
    return texts and has_expiry_if_needed and all(isinstance(each, int | float) for each in times)


def _write(path: Path, contents: _Contents) -> None:
    stored = {"guests": [_to_json(grant) for grant in contents.grants.values()], "address": contents.address}
    write_secret(path, json.dumps(stored, indent=1).encode())


def write_secret(path: Path, content: bytes) -> None:
    """Replaces ``path`` atomically by a file that only its owner may read. Raises OSError."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    path.parent.chmod(0o700)
    write_atomically(path, content)


def _system_error(path: Path, error: OSError) -> AccessListError:
    return AccessListError(path, (error.strerror or str(error)).lower())
