"""The sentences in which the logger reports the events that it notices itself."""

from monitor.model import Event, clock_offset_text


def event_text(event: Event) -> str:
    """One sentence about lost packs, bad lines or the rig's clock."""
    if event.kind == "rig clock":
        ahead_s = float(event.fields["ahead_s"])
        if not ahead_s:
            return "The rig's clock is right again."
        is_counter = "counts" in event.fields
        off = "counts from its own start" if is_counter else f"is {clock_offset_text(ahead_s)} of this machine's"
        return f"The rig's clock {off}; that much is taken off its times."
    count = int(float(event.fields["count"]))
    if event.kind == "packs lost":
        return f"{count} packs were lost on their way here."
    lines = "A line" if count == 1 else f"{count} lines"
    return f"{lines} could not be read: {event.fields['reason']}; it began {event.fields['bytes']}"
