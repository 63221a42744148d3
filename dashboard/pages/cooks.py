"""Past cooks: every recording of the folder, the latest first."""

from dashboard.desk import current_desk
from dashboard.pages import parts
from dashboard.pages.tags import Component, html
from monitor.errors import MonitorError
from monitor.view import RecordingError, Summary

TITLE = "Past cooks"


def layout(**_others: str) -> parts.Page:
    """The list; a file that cannot be read stands in it with the reason."""
    desk = current_desk()
    try:
        with desk.lock:
            found = desk.shelf.cooks()
    except MonitorError as error:
        return parts.still(_head(), html.P(str(error), className="plain", role="alert"))
    if not found:
        return parts.still(_head(), html.P("There is no cook yet.", className="plain"))
    rows = [_damaged(entry) if isinstance(entry, RecordingError) else _row(entry) for entry in found]
    return parts.still(_head(), html.Ul(rows, className="cooks"))


def _head() -> Component:
    return parts.head(TITLE, parts.link("Phones", "/phones"), parts.link("Now", "/"))


def _row(entry: Summary) -> Component:
    return html.Li(
        html.A(
            [
                html.Strong(entry.title),
                # The browser writes the date in the viewer's own zone.
                html.Span("", className="when", **{"data-at": str(round(entry.about.started))}),
                html.Span(f"{_length(entry)}, {_outcome(entry)}"),
            ],
            href=f"/cooks/{entry.path.stem}",
        )
    )


def _damaged(error: RecordingError) -> Component:
    return html.Li([html.Strong(error.path.name), html.Span(f"Cannot be read: {error.why}.")], className="damaged")


def _length(entry: Summary) -> str:
    minutes = round(((entry.finished or entry.last_known) - entry.about.started) / 60)
    return f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{max(minutes, 0)} min"


def _outcome(entry: Summary) -> str:
    checks = [event.fields["result"] for event in entry.events if event.kind == "checked"]
    last = f"last check {checks[-1]}" if checks else "never checked"
    return f"finished, {last}" if entry.finished is not None else f"still running, {last}"
