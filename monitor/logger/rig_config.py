"""The rigs of a ``start`` command: each has a name, a source, and perhaps a batch sheet, columns and renamings."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import unquote

from monitor.runtime import MonitorError
from monitor.sources import parse_source_url

DEFAULT_RIG = "cooker"
NAME = r"[\w][\w .-]{0,39}"
# A scheme has a colon and a name has none, so a "=" behind a "?" begins no address.
_NAMED = re.compile(rf"({NAME})=(.*)\Z", re.DOTALL)
_READINGS = re.compile(r"/(?:.*/)?([^/]+)/readings\Z")


class RigConfigError(MonitorError):
    """Cookers that cannot be told apart. why: one sentence."""

    exit_status = 2

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


@dataclass(frozen=True, slots=True)
class RigConfig:
    """One cooker. columns: as ``--columns`` has them, or None. renamings: as ``--as`` has them.

    further: sources beside the first whose readings belong to the same cook.
    """

    name: str
    source: str
    batch: Path | None = None
    columns: str | None = None
    renamings: tuple[str, ...] = ()
    further: tuple[str, ...] = ()

    @property
    def sources(self) -> tuple[str, ...]:
        """All of its sources, the first one first."""
        return (self.source, *self.further)


def rig_configs(
    sources: Sequence[str],
    batches: Sequence[str] = (),
    columns: Sequence[str] = (),
    usual: str = DEFAULT_RIG,
    renamings: Sequence[str] = (),
) -> tuple[RigConfig, ...]:
    """What ``--source``, ``--batch`` and ``--columns`` say, each given as often as there are cookers, and ``--as``.

    sources: ``NAME=URL`` or ``URL``; those with the same name in front belong to one cooker.
    batches, columns, renamings: ``NAME=...``, or plain where there is one cooker.
    usual: the name of a single cooker that names itself neither in front of its address nor in its topic.
    Raises RigConfigError, and SourceError for an address that is none.

    >>> [(one.name, one.batch) for one in rig_configs(["left=serial:///dev/a", "mqtt://host/kettleside/right/readings"],
    ...     ["right=olive.toml"])]
    [('left', None), ('right', PosixPath('olive.toml'))]
    """
    split = [_split(text) for text in sources]
    named: dict[str, list[str]] = {}
    given = [name for name, _ in split if name]
    for name, url in split:
        rig = name or _by_topic(url) or usual
        if rig in named and (name is None or given.count(rig) < 2):
            raise RigConfigError(
                f"{len(split)} sources need their cookers' names; write --source left=URL --source right=URL, or the "
                "same name in front of those that belong to one cooker."
            )
        named.setdefault(rig, []).append(parse_source_url(url).text)
    if len({url for urls in named.values() for url in urls}) < len(split):
        raise RigConfigError("The same source cannot be named twice.")
    # Where a file is named after the cooker: on some disks capitals make no difference.
    if len({name.casefold() for name in named}) < len(named):
        raise RigConfigError("Two cookers' names differ only in capitals; choose others.")
    sheets = _by_rig("--batch", batches, tuple(named))
    columns_by_rig = _by_rig("--columns", columns, tuple(named))
    rig_and_renaming = [_rig_and_rest("--as", text, tuple(named)) for text in renamings]
    return tuple(
        RigConfig(
            name,
            urls[0],
            Path(sheets[name]) if name in sheets else None,
            columns_by_rig.get(name),
            tuple(rest for rig, rest in rig_and_renaming if rig == name),
            tuple(urls[1:]),
        )
        for name, urls in named.items()
    )


def _split(text: str) -> tuple[str | None, str]:
    found = _NAMED.match(text)
    return (found[1].strip(), found[2]) if found else (None, text)


def _by_topic(text: str) -> str | None:
    """The rig that an MQTT topic names, such as ``kettleside/left/readings``."""
    url = parse_source_url(text)
    found = _READINGS.match(unquote(url.path)) if url.scheme in ("mqtt", "mqtts") else None
    return found[1] if found and re.fullmatch(NAME, found[1]) else None


def _by_rig(option: str, texts: Sequence[str], names: tuple[str, ...]) -> dict[str, str]:
    """What belongs to whom. A path may hold a "=" of its own, so only a cooker's name counts before one."""
    shared: dict[str, str] = {}
    for text in texts:
        name, rest = _rig_and_rest(option, text, names)
        if name in shared:
            raise RigConfigError(f"{option} is given twice for the cooker {name}.")
        shared[name] = rest
    return shared


def _rig_and_rest(option: str, text: str, names: tuple[str, ...]) -> tuple[str, str]:
    """The cooker that a text is of, and the text without its name."""
    name, rest = _split(text)
    if name in names:
        return name, rest
    if len(names) > 1:
        raise RigConfigError(f"{option} {text}: say whose it is, such as {option} {names[0]}={text}.")
    return names[0], text


def shares_cook(source: str) -> bool:
    """Whether the address is a topic filter that takes in every rig of a broker, all of them into one cook.

    >>> shares_cook("mqtt://host/kettleside/+/readings"), shares_cook("mqtt://host/kettleside/left/readings")
    (True, False)
    """
    url = parse_source_url(source)
    return url.scheme in ("mqtt", "mqtts") and bool(re.search(r"/(\+/readings|#)\Z", unquote(url.path)))
