"""Whose eyes a page is for: the zone of their clock, which the browser names in a cookie.

So the server writes every time of a page and of a figure, and only the second's clock is left to the browser.
"""

from datetime import datetime
from zoneinfo import ZoneInfo

from flask import has_request_context, request

from dashboard.components.tags import Component, html

ZONE_COOKIE = "kettleside-zone"


def zone_name() -> str:
    """The viewer's time zone by its name in the IANA database; UTC until the browser has named one that is known."""
    name = request.cookies.get(ZONE_COOKIE, "") if has_request_context() else ""
    try:
        # A path would be looked up on this machine's disk; ZoneInfo refuses those that leave its folder.
        return ZoneInfo(name).key if name else "UTC"
    except (ValueError, OSError, LookupError):
        return "UTC"


def clock(moment: float) -> str:
    """The time of day of ``moment`` (Unix seconds) as the viewer's clock shows it."""
    return _local(moment).strftime("%H:%M")


def day_and_clock(moment: float) -> str:
    """Day and time of ``moment`` (Unix seconds), such as "Sat 2 May 2026, 09:00"."""
    local = _local(moment)
    return f"{local:%a} {local.day} {local:%b %Y}, {local:%H:%M}"


def viewer_zone() -> ZoneInfo:
    """The zone of the viewer's clock."""
    return ZoneInfo(zone_name())


def date_of(moment: float) -> str:
    """The day of ``moment`` (Unix seconds), such as "2 May 2026"."""
    local = _local(moment)
    return f"{local.day} {local:%b %Y}"


def time_of(moment: float, *, day: bool = False) -> Component:
    """A time that machines can read too."""
    return html.Time(day_and_clock(moment) if day else clock(moment), dateTime=_local(moment).isoformat("T", "seconds"))


def _local(moment: float) -> datetime:
    return datetime.fromtimestamp(moment, viewer_zone())
