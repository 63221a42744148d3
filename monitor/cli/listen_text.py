"""What ``kettleside listen`` prints: a table while it listens, findings and the proposed command at the end."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from monitor.listening import finding_words, printable

if TYPE_CHECKING:
    from monitor.listening import Listener, PlaceFinding

MOST_SHOWN = 20


def cut(text: str, width: int) -> str:
    """The text in exactly this width.

    >>> cut("temperature", 6), cut("pot", 6)
    ('tempe…', 'pot   ')
    """
    text = printable(text)
    return text.ljust(width) if len(text) <= width else f"{text[: width - 1]}…"


def table_lines(
    listener: "Listener", problems: Sequence[str], url: str, rig: str | None, width: int, height: int
) -> list[str]:
    """The table while it listens, no larger than the terminal."""
    count = f"{listener.messages} message{'' if listener.messages == 1 else 's'}"
    head = f"Listens to {url}: {count}. Ctrl-C ends it and says more."
    lines = [head, *problems[:3]]
    findings = listener.findings()
    room = max(1, height - len(lines) - 3)
    place = max(12, min(40, width - 66))
    for one in findings[:room]:
        read = ", ".join(f"{channel.channel} {channel.value:.5g} {channel.unit}" for channel in one.channels)
        lines.append(f"{cut(one.place, place)} {cut(one.kind.value, 18)} {cut(one.latest, 24)} {read or '-'}")
    if len(findings) > room:
        lines.append(f"and {len(findings) - room} more")
    proposal = listener.proposal()
    if proposal is not None:
        lines.append(f"To read it: {proposal.command('log', rig)}")
    return [cut(line, max(20, width - 1)).rstrip() for line in lines]


def heard_lines(listener: "Listener", rig: str | None) -> list[str]:
    """What was heard and how it is read, for a person."""
    findings = listener.findings()
    lines = [line for one in findings[:MOST_SHOWN] for line in finding_lines(one)]
    if len(findings) > MOST_SHOWN:
        lines.append(f"{len(findings) - MOST_SHOWN} more topics send something; --json has them all.")
    if listener.passed_over:
        lines.append(f"{listener.passed_over} messages of further topics were passed over.")
    proposal = listener.proposal()
    if proposal is None:
        return lines
    lines += ["", "To read it:", f"  {proposal.command('log', rig)}"]
    lines += ["With the page and the notices:", f"  {proposal.command('start', rig)}"]
    return lines + [f"Check: {printable(doubt)}" for doubt in proposal.doubts]


def finding_lines(one: "PlaceFinding") -> list[str]:
    """One topic or port in words."""
    first, *rest = finding_words(one)
    return [f"{printable(one.place)}: {first}", *(f"  {line}" for line in rest)]


def heard_json(
    listener: "Listener", url: str, lasted_s: float, problems: Sequence[str], rig: str | None
) -> dict[str, object]:
    """What was heard and how it is read, for scripts."""
    proposal = listener.proposal()
    return {
        "url": url,
        "lasted_s": round(lasted_s, 1),
        "messages": listener.messages,
        "passed_over": listener.passed_over,
        "problems": list(problems),
        "findings": [_finding_json(one) for one in listener.findings()],
        "proposal": None
        if proposal is None
        else {
            "sources": list(proposal.sources),
            "as": list(proposal.renamings),
            "log": proposal.command("log", rig),
            "start": proposal.command("start", rig),
            "reasons": list(proposal.reasons),
            "check": list(proposal.doubts),
        },
    }


def _finding_json(one: "PlaceFinding") -> dict[str, object]:
    return {
        "place": one.place,
        "sends": one.kind.value,
        "messages": one.count,
        "retained": one.retained,
        "every_s": None if one.every_s is None else round(one.every_s, 3),
        "latest": one.latest,
        "channels": [
            {
                "path": channel.path,
                "channel": channel.channel,
                "unit": channel.unit,
                "value": channel.value,
                "reason": channel.reason,
                "check": channel.doubt or None,
            }
            for channel in one.channels
        ],
        "left_out": [{"path": path, "value": value, "why": why} for path, value, why in one.left_out],
        "source": one.source,
        "as": list(one.renamings),
        "problem": one.problem or None,
    }
