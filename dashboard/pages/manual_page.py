"""One page of the manual."""

from dashboard.components import parts
from dashboard.components.manual_text import INDEX, page_names, page_text, passages_of
from dashboard.components.markdown import components
from dashboard.components.tags import html
from dashboard.pages import lost

PATH = "/manual/<name>"
# From so many headings on a page begins with the list of them.
LIST_FROM = 4


def layout(name: str, **_others: object) -> parts.Page:
    """The page of this name, with the list of its headings on demand where they are many."""
    if name == INDEX or name not in page_names():
        return lost.layout()
    first, *others = passages_of(name)
    listed = [html.Li(html.A(one.heading, href=f"#{one.anchor}", className="way")) for one in others]
    contents = [html.Summary("On this page"), html.Ul(listed, className="contents")]
    folded = [html.Details(contents, className="choose")] if len(others) >= LIST_FROM else []
    # Its title stands in the head already.
    body = components(page_text(name))[1:]
    return parts.still(
        parts.head(first.title, parts.link("Manual", "/manual")),
        html.Div([*folded, *body], className="manual"),
        title=first.title,
    )
