"""What was found out about a topic or port, in words."""

from monitor.listening.finding import PlaceFinding

MOST_LEFT_OUT = 6


def printable(text: str) -> str:
    """A name as it may go to a terminal: whoever sends it chose its characters.

    >>> printable("pot/temp"), printable("a" + chr(27) + "[2J")
    ('pot/temp', 'a\\\\x1b[2J')
    """
    return "".join(one if one.isprintable() else ascii(one)[1:-1] for one in text)


def finding_words(one: PlaceFinding) -> list[str]:
    """What one topic or port sends, then a sentence for each of its numbers."""
    often = "" if one.every_s is None else f" every {one.every_s:.2g} s"
    stored = ", stored by the broker" if one.retained == one.count else ""
    lines = [f"{one.kind.value}{often}{stored}: {one.latest}"]
    for channel in one.channels:
        name = f"{printable(one.label(channel.path))} ({channel.value:.6g})" if channel.path else f"{channel.value:.6g}"
        lines.append(f"{name} is read as {channel.channel} in {channel.unit}: {printable(channel.reason)}.")
    if one.left_out:
        left = [
            f"{printable(one.label(path)) or 'it'} ({value:.6g})" for path, value, _ in one.left_out[:MOST_LEFT_OUT]
        ]
        more = f" and {len(one.left_out) - MOST_LEFT_OUT} more" if len(one.left_out) > MOST_LEFT_OUT else ""
        lines.append(f"Left out: {', '.join(left)}{more}.")
    if one.problem:
        lines.append(one.problem)
    return lines
