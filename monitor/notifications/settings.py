"""How a person wants to be notified: TOML text to settings, with every mistake named in one sentence.

Addresses of services hold passwords, so no message ever repeats a value that was given, only the names of keys.
"""

import math
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import time
from difflib import get_close_matches
from zoneinfo import ZoneInfo

from monitor.model import NAMES, WAKING, is_name
from monitor.notifications.quiet_hours import QuietHours
from monitor.notifications.repeat import REPEAT_AFTER_S
from monitor.runtime import MonitorError
from monitor.sources import SourceError, SourceUrl, parse_source_url

MOST_CHANNELS = 20
# The convention's own default, which happens to be the name of one platform: a platform that nobody has set up
# otherwise listens under no other, so that nothing would appear by itself.
USUAL_PREFIX = "homeassistant"


class NoticeSettingsError(MonitorError):
    """The settings are wrong. where: the key or place; why: one clause, without any value that may be secret."""

    exit_status = 2

    def __init__(self, where: str, why: str) -> None:
        self.where = where
        self.why = why
        super().__init__(f"The notice settings are wrong at {where}: {why}.")


@dataclass(frozen=True, slots=True)
class Service:
    """A service that Apprise reaches. url: secret, and so in no representation of this.

    brief: whether it is told only what is due or wrong, in the words of the glossary, without why and without readings.
    """

    name: str
    url: str = field(repr=False)
    brief: bool = False


@dataclass(frozen=True, slots=True)
class Command:
    """A program on this machine, such as one that rings a bell. run: the program and its arguments, secret too."""

    name: str
    run: tuple[str, ...] = field(repr=False)


@dataclass(frozen=True, slots=True)
class HomeAutomationSettings:
    """How a home-automation platform finds the cookers. prefix: of the topics that it finds things by.

    broker: the platform's; None for that of the source.
    """

    prefix: str = USUAL_PREFIX
    broker: SourceUrl | None = None


@dataclass(frozen=True, slots=True)
class NoticeSettings:
    """How notices go out.

    repeat_after_s: real seconds between a notice and its repeat. leave_out: names that never go out. rig_buzzer:
    whether a line goes down a rig's cable. home_automation: None where no platform is to find the cookers.
    """

    repeat_after_s: tuple[float, ...] = REPEAT_AFTER_S
    leave_out: tuple[str, ...] = ()
    quiet_hours: QuietHours | None = None
    services: tuple[Service, ...] = ()
    commands: tuple[Command, ...] = ()
    rig_buzzer: bool = True
    home_automation: HomeAutomationSettings | None = None

    def may_notify(self, name: str, wall: float) -> bool:
        """Whether a notification of this name may go out. wall: the wall clock, Unix seconds."""
        return name not in self.leave_out and not (self.quiet_hours and self.quiet_hours.holds_back(name, wall))


def read_notice_settings(text: str) -> NoticeSettings:
    """The settings that a file's text describes. Raises NoticeSettingsError.

    >>> read_notice_settings("again_minutes = [5, 15]").repeat_after_s
    (300.0, 900.0)
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        # The parser quotes the text at fault, which may be a part of a password.
        place = re.search(r"\(at (line \d+, column \d+|end of document)\)", str(error))
        raise NoticeSettingsError(place[1] if place else "its TOML", "it is not TOML there") from None
    except RecursionError:
        raise NoticeSettingsError("its TOML", "it is nested too deeply") from None
    known = ("again_minutes", "leave_out", "rig_buzzer", "home_automation", "quiet_hours", "service", "command")
    _known_keys(table, known, "")
    services = tuple(_service(entry, place) for place, entry in enumerate(_tables(table, "service"), 1))
    commands = tuple(_command(entry, place) for place, entry in enumerate(_tables(table, "command"), 1))
    names = [*(one.name for one in services), *(one.name for one in commands)]
    if len(set(names)) < len(names):
        raise NoticeSettingsError("'name'", "two services or commands have the same one")
    return NoticeSettings(
        _gaps(table.get("again_minutes")),
        _names(table, "leave_out", "", ()),
        _quiet_hours(table["quiet_hours"]) if "quiet_hours" in table else None,
        services,
        commands,
        _yes_or_no(table.get("rig_buzzer", True), "'rig_buzzer'"),
        _home_automation(table["home_automation"]) if "home_automation" in table else None,
    )


def _gaps(value: object) -> tuple[float, ...]:
    if value is None:
        return REPEAT_AFTER_S
    where = "'again_minutes'"
    if not isinstance(value, list) or not 1 <= len(value) <= 20:
        raise NoticeSettingsError(where, "it must be a list of minutes such as [5, 10, 20, 40]")
    for minutes in value:
        is_number = isinstance(minutes, int | float) and not isinstance(minutes, bool) and math.isfinite(minutes)
        if not is_number or not 1 <= minutes <= 1440:
            raise NoticeSettingsError(where, "each must be a number of minutes from 1 to 1440")
    if sorted(value) != value:
        raise NoticeSettingsError(where, "no gap may be shorter than the one before it")
    return tuple(60.0 * minutes for minutes in value)


def _yes_or_no(value: object, where: str) -> bool:
    if not isinstance(value, bool):
        raise NoticeSettingsError(where, "it must be true or false, without quotation marks")
    return value


def _home_automation(table: object) -> HomeAutomationSettings:
    if not isinstance(table, dict):
        raise NoticeSettingsError("'home_automation'", "it must be a table headed [home_automation]")
    _known_keys(table, ("prefix", "broker"), "home_automation.")
    prefix = table.get("prefix", USUAL_PREFIX)
    # As the convention has it for the other parts of its topics; a wildcard cannot be published to.
    if not isinstance(prefix, str) or not re.fullmatch(r"[\w-]+(/[\w-]+)*", prefix, re.ASCII) or len(prefix) > 200:
        raise NoticeSettingsError(
            "'home_automation.prefix'", "it must be letters, digits, dashes and underscores, such as 'discovery'"
        )
    return HomeAutomationSettings(prefix, _broker(table["broker"]) if "broker" in table else None)


def _broker(value: object) -> SourceUrl:
    where = "'home_automation.broker'"
    try:
        url = parse_source_url(value) if isinstance(value, str) else None
    except SourceError:
        url = None
    if url is None or url.scheme not in ("mqtt", "mqtts") or not url.host:
        raise NoticeSettingsError(where, "it must be an address such as 'mqtt://USER@192.168.1.20', without a password")
    return url


def _quiet_hours(table: object) -> QuietHours:
    if not isinstance(table, dict):
        raise NoticeSettingsError("'quiet_hours'", "it must be a table headed [quiet_hours]")
    where = "quiet_hours."
    _known_keys(table, ("from", "to", "zone", "still_tell"), where)
    begin, end = _time(table, "from"), _time(table, "to")
    if begin == end:
        raise NoticeSettingsError("'quiet_hours.to'", "it must differ from 'from'")
    zone = None
    if "zone" in table:
        try:
            zone = ZoneInfo(table["zone"])
        # The library raises what the platform does for names that are no files.
        except (OSError, ValueError, TypeError, KeyError):
            raise NoticeSettingsError(
                "'quiet_hours.zone'", "there is no such zone; write such as 'Europe/Paris'"
            ) from None
    return QuietHours(begin, end, zone, _names(table, "still_tell", where, WAKING))


def _time(table: Mapping[str, object], key: str) -> time:
    value = table.get(key)
    if isinstance(value, time):
        return value
    try:
        if isinstance(value, str):
            return time.fromisoformat(value).replace(tzinfo=None)
    except ValueError:
        pass
    raise NoticeSettingsError(f"'quiet_hours.{key}'", 'it must be a time of day such as "22:30"')


def _names(table: Mapping[str, object], key: str, where: str, default: tuple[str, ...]) -> tuple[str, ...]:
    value = table.get(key)
    if value is None:
        return default
    if not isinstance(value, list) or not all(isinstance(name, str) for name in value):
        raise NoticeSettingsError(f"'{where}{key}'", 'it must be a list of names such as ["near boil-over"]')
    for place, name in enumerate(value, 1):
        if not is_name(name):
            near = get_close_matches(name, NAMES, 1, 0.0)[0]
            raise NoticeSettingsError(
                f"'{where}{key}'", f"name {place} is none that is ever told; the nearest is {near!r}"
            )
    return tuple(value)


def _tables(table: Mapping[str, object], key: str) -> list[object]:
    value = table.get(key, [])
    if not isinstance(value, list) or len(value) > MOST_CHANNELS:
        raise NoticeSettingsError(f"'{key}'", f"each is a table headed [[{key}]], at most {MOST_CHANNELS}")
    return value


def _service(entry: object, place: int) -> Service:
    where = f"service {place}"
    if not isinstance(entry, dict):
        raise NoticeSettingsError(where, "each is a table headed [[service]]")
    _known_keys(entry, ("name", "url", "brief"), f"{where}: ")
    url = entry.get("url")
    if not isinstance(url, str) or "://" not in url or len(url) > 4000 or not url.isprintable():
        raise NoticeSettingsError(
            f"'{where}: url'", "it must be an address as Apprise writes them, such as mailtos://..."
        )
    return Service(_name(entry, where), url, _yes_or_no(entry.get("brief", False), f"'{where}: brief'"))


def _command(entry: object, place: int) -> Command:
    where = f"command {place}"
    if not isinstance(entry, dict):
        raise NoticeSettingsError(where, "each is a table headed [[command]]")
    _known_keys(entry, ("name", "run"), f"{where}: ")
    run = entry.get("run")
    if not isinstance(run, list) or not run or not all(isinstance(word, str) and "\0" not in word for word in run):
        raise NoticeSettingsError(
            f"'{where}: run'", 'it must be a program and its arguments such as ["aplay", "bell.wav"]'
        )
    return Command(_name(entry, where), tuple(run))


def _name(entry: Mapping[str, object], where: str) -> str:
    value = entry.get("name")
    if not isinstance(value, str) or not re.fullmatch(r"[\w][\w .,'-]{0,39}", value):
        raise NoticeSettingsError(
            f"'{where}: name'", "it must be 1 to 40 letters, digits, blanks, dots, commas or dashes"
        )
    return value


def _known_keys(table: Mapping[str, object], known: Iterable[str], where: str) -> None:
    for key in table:
        if key not in known:
            near = get_close_matches(key, list(known), 1, 0.0)[0]
            # A key as long as an address may be one, put on the wrong side of the equals sign.
            shown = (
                f"'{where}{key}'"
                if re.fullmatch(r"[\w-]{1,30}", key)
                else f"a key of {where or 'the file'}".rstrip(": ")
            )
            raise NoticeSettingsError(shown, f"there is no such key; the nearest is {near!r}")
