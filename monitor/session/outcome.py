"""How a cook ended, in a few words."""

from monitor.model import clear_since, span
from monitor.storage import CookSummary


def outcome(cook: CookSummary) -> str:
    """What the checks of a cook say of how it ended."""
    checks = [event for event in cook.events if event.kind == "checked"]
    ended = cook.finished is not None
    clear = clear_since(checks)
    if clear is not None:
        starts = [event.measured for kind in ("lid on", "thick trace") for event in cook.events if event.kind == kind]
        after = f" after {span(clear - starts[0])}" if starts else ""
        return f"clear{after}"
    if checks:
        return f"{'ended' if ended else 'last check'} {checks[-1].fields.get('result')}"
    return "ended without a check" if ended else "under way"
