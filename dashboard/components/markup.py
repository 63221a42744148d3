"""A page's components as plain HTML, so that a phone shows the page before Dash has started."""

import json
import re
from html import escape
from typing import Any

from dashboard.components.tags import Component

# Where a component's name is not its tag's, or its props are named after the DOM's and not after HTML's.
TAGS = {"Input": "input", "Textarea": "textarea"}
ATTRIBUTES = {
    "className": "class",
    "htmlFor": "for",
    "maxLength": "maxlength",
    "dateTime": "datetime",
    "colSpan": "colspan",
    "rowSpan": "rowspan",
    "tabIndex": "tabindex",
    "inputMode": "inputmode",
    "autoComplete": "autocomplete",
}
CHILDLESS = {"input", "img", "br", "hr"}
# Props that are Dash's alone.
UNWRITTEN = {"n_clicks", "debounce"}
# Components that show nothing.
UNSEEN = {"Store", "Interval", "Location", "Download"}


def markup(part: Component) -> str:
    """HTML of a component, of text, or of a list of both.

    >>> from dashboard.components.tags import html
    >>> markup(html.P(["5 < 6 ", html.B("so")], className="why", hidden=True))
    '<p class="why" hidden>5 &lt; 6 <b>so</b></p>'
    """
    if part is None:
        return ""
    if isinstance(part, str | int | float):
        return escape(str(part))
    if isinstance(part, list | tuple):
        return "".join(markup(child) for child in part)
    described = part.to_plotly_json()
    if described["type"] in UNSEEN:
        return ""
    props: dict[str, Any] = dict(described["props"])
    children = props.pop("children", None)
    tag = TAGS.get(described["type"], described["type"].lower())
    attributes = "".join(
        _attribute(ATTRIBUTES.get(name, name), value) for name, value in props.items() if name not in UNWRITTEN
    )
    written = f"<{tag}{attributes}>" if tag in CHILDLESS else f"<{tag}{attributes}>{markup(children)}</{tag}>"
    # Dash wraps its inputs; what is wrapped alike looks alike.
    return f'<div class="dash-input-container">{written}</div>' if tag == "input" else written


def _attribute(name: str, value: object) -> str:
    if value is False or value is None:
        return ""
    if name == "style" and isinstance(value, dict):
        value = ";".join(
            f"{re.sub('[A-Z]', lambda found: '-' + found[0].lower(), key)}:{one}" for key, one in value.items()
        )
    elif isinstance(value, dict):
        # The id of a component that stands for several, as Dash writes it.
        value = json.dumps(value, sort_keys=True, separators=(",", ":"))
    return f" {name}" if value is True else f' {name}="{escape(str(value))}"'


def data_block(name: str, data: object) -> str:
    """Data for a script, which no browser runs."""
    # Within a script element nothing but its end is special, and no JSON needs a bare "<".
    text = json.dumps(data, separators=(",", ":"), allow_nan=False).replace("<", "\\u003c")
    return f'<script type="application/json" id="{escape(name)}">{text}</script>'
