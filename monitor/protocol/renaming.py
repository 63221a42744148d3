"""Channels recorded under other names than those they are sent by, and in the unit that a person says they come in."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from monitor.model import allowed_units, is_announceable_unit, role, unit_text
from monitor.protocol.senml import Pack, SenmlRecord

_SENT = r"[A-Za-z0-9][A-Za-z0-9\-:./_]*"
_TEXT = re.compile(rf"({_SENT})=([A-Za-z0-9][A-Za-z0-9\-./_]*)(?::([^:=]{{1,40}}))?\Z")


@dataclass(frozen=True, slots=True)
class Renaming:
    """sent: the channel as it is sent, whole or its last part, whatever its case. channel: as it is recorded.

    unit: what it comes in, whatever the sender says; None where the sender's own unit stands.
    """

    sent: str
    channel: str
    unit: str | None = None

    def applied(self, record: SenmlRecord) -> SenmlRecord | None:
        """The record by its new name, or None where it is of another channel."""
        name = record.channel
        if name.lower() == self.sent.lower():
            name = self.channel
        elif role(name) == self.sent.lower():
            # What stands before the last part tells rigs and chips apart.
            name = name[: len(name) - len(self.sent)] + self.channel
        else:
            return None
        return replace(record, channel=name, unit=record.unit if self.unit is None else self.unit)

    def sentence(self) -> str:
        """What the logger reports at its start.

        >>> Renaming("temp1", "paste", "degF").sentence()
        'temp1 is recorded as paste in degF.'
        """
        return f"{self.sent} is recorded as {self.channel}{'' if self.unit is None else ' ' + unit_text(self.unit)}."


def parse_renaming(text: str) -> Renaming:
    """What ``--as`` says: SENT=CHANNEL, or SENT=CHANNEL:UNIT. Raises ValueError naming what would do.

    >>> parse_renaming("temp1=paste"), parse_renaming("probe/2=wall:degF").unit
    (Renaming(sent='temp1', channel='paste', unit=None), 'degF')
    """
    match = _TEXT.match(text.strip())
    if match is None:
        raise ValueError(f"as is {text!r}; it must be SENT=CHANNEL or SENT=CHANNEL:UNIT, such as temp1=paste")
    sent, channel, unit = match.groups()
    if unit is not None and not is_announceable_unit(role(channel), unit):
        raise ValueError(f"as is {text!r}; {role(channel)} comes in {allowed_units(role(channel))}")
    return Renaming(sent, channel, unit)


def parse_renamings(texts: Iterable[str]) -> tuple[Renaming, ...]:
    """The renamings of several such texts.

    Raises ValueError also where two of them have the same sent name, or the same channel.
    """
    parsed = tuple(map(parse_renaming, texts))
    for part, names in (
        ("sent", [one.sent.lower() for one in parsed]),
        ("channel", [role(one.channel) for one in parsed]),
    ):
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice is not None:
            raise ValueError(f"as has the {part} {twice!r} twice")
    return parsed


def renamed(pack: Pack, renamings: Sequence[Renaming]) -> Pack:
    """The pack with its channels renamed; the same object where none is."""
    records = tuple(
        next((new for one in renamings if (new := one.applied(record)) is not None), record) for record in pack.records
    )
    return pack if records == pack.records else replace(pack, records=records)
