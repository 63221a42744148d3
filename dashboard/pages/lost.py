"""What stands at an address that leads nowhere."""

from dashboard.components import parts


def layout(**_others: str) -> parts.Page:
    """One sentence and the way back."""
    return parts.refusal("There is no such page.", 404)
