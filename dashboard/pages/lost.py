"""What stands at an address that leads nowhere."""

from dashboard.pages import parts
from dashboard.pages.tags import Component, html

TITLE = "kettleside"


def layout(**_others: str) -> Component:
    """One sentence and the way back."""
    return html.Main(
        [parts.head("kettleside", parts.link("Now", "/")), html.P("There is no such page.", className="plain")]
    )
