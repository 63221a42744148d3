"""Services that a person names on a page: blocks of the settings file, which otherwise stays as its owner wrote it."""

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from monitor.notifications.settings import Service, read_notice_settings
from monitor.notifications.store import (
    NoticeFileError,
    make_place,
    read_settings_text,
    settings_path,
    write_settings_text,
)
from monitor.runtime import MonitorError, locked

MARK = "# Added on a page."
_BLOCK = re.compile(rf'^{re.escape(MARK)}\n\[\[service\]\]\nname = ("[^\n]*")\nurl = "[^\n]*"\nbrief = true\n', re.M)


class TakenNameError(MonitorError):
    """Another service or command has this name. name: it."""

    def __init__(self, name: str) -> None:
        self.name = name
        super().__init__(f"Something is called “{name}” already; choose another name.")


def add_service(folder: Path, name: str, url: str) -> None:
    """Adds a brief service to the settings of a folder of recordings.

    url: as Apprise writes addresses. Raises TakenNameError, NoticeFileError, NoticeSettingsError.
    """
    with _alone(folder):
        text = read_settings_text(folder)
        settings = read_notice_settings(text)
        if name in [*(one.name for one in settings.services), *(one.name for one in settings.commands)]:
            raise TakenNameError(name)
        block = f"{MARK}\n[[service]]\nname = {_quoted(name)}\nurl = {_quoted(url)}\nbrief = true\n"
        start = "" if not text or text.endswith("\n") else "\n"
        write_settings_text(folder, f"{text}{start}{block}")


def drop_service(folder: Path, name: str) -> bool:
    """Takes away a service that was added on a page; False where there is none of this name. Raises as above."""
    with _alone(folder):
        text = read_settings_text(folder)
        kept = _BLOCK.sub(lambda found: "" if json.loads(found[1]) == name else found[0], text)
        if kept == text:
            return False
        write_settings_text(folder, kept)
        return True


def added_services(folder: Path) -> tuple[Service, ...]:
    """The services that were added on a page. Raises NoticeFileError, NoticeSettingsError."""
    text = read_settings_text(folder)
    names = {json.loads(found[1]) for found in _BLOCK.finditer(text)}
    return tuple(one for one in read_notice_settings(text).services if one.name in names)


def _quoted(text: str) -> str:
    # JSON's strings are TOML's too, but for halves of characters, which only its escapes have.
    return json.dumps(text, ensure_ascii=False)


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Nobody else changes the settings meanwhile. Raises NoticeFileError."""
    path = settings_path(folder)
    try:
        make_place(folder)
        with locked(path.with_suffix(".lock"), 0o600):
            yield
    except OSError as error:
        raise NoticeFileError(path, (error.strerror or str(error)).lower()) from None
