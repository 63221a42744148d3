"""What stands at an address that leads nowhere."""

from dashboard.pages import parts
from dashboard.pages.tags import html

TITLE = "kettleside"


def layout(**_others: str) -> parts.Page:
    """One sentence and the way back."""
    return parts.still(
        parts.head("kettleside", parts.link("Now", "/")), html.P("There is no such page.", className="plain")
    )
