"""Markdown of the manual as components, so that it is escaped like all other text and there at the first paint.

HTML in it is left out: it holds remarks for whoever writes the pages.
"""

import re
from collections import Counter
from functools import cache

from markdown_it import MarkdownIt
from markdown_it.tree import SyntaxTreeNode

from dashboard.auth.addresses import PICTURES_PATH
from dashboard.components.manual_text import FOLDER, INDEX, anchor_of
from dashboard.components.tags import Component, html

_PLAIN = {
    "paragraph": "P",
    "bullet_list": "Ul",
    "ordered_list": "Ol",
    "list_item": "Li",
    "strong": "B",
    "em": "I",
    "blockquote": "Blockquote",
    "table": "Table",
    "thead": "Thead",
    "tbody": "Tbody",
    "tr": "Tr",
    "td": "Td",
}
_PAGE = re.compile(r"(?:([\w-]+)\.md)?(#[\w-]+)?")


def components(text: str, *, anchored: bool = True) -> list[Component]:
    """Components of Markdown. anchored: whether headings have their anchors as ids, which only one page's may."""
    return _Writer(anchored=anchored).all_of(SyntaxTreeNode(_parser().parse(text)))


def manual_address(target: str) -> str | None:
    """Where a link of the manual leads in the app; None for what the app does not show.

    >>> manual_address("sources.md#names-and-units"), manual_address("README.md"), manual_address("../app.py")
    ('/manual/sources#names-and-units', '/manual', None)
    """
    found = _PAGE.fullmatch(target)
    if not found or not target:
        return None
    page, anchor = found[1], found[2] or ""
    return f"/manual{f'/{page}' if page != INDEX else ''}{anchor}" if page else anchor


def _picture(name: str, words: str) -> Component:
    """A picture in its own size, which a narrow phone scrolls. Raises FileNotFoundError."""
    head = (FOLDER / name).read_text(encoding="utf-8")[:1000]
    size = {side: found[1] for side in ("width", "height") if (found := re.search(rf'\b{side}="(\d+)', head))}
    picture = html.Img(src=f"{PICTURES_PATH}/{name}", alt=words, **size)
    return html.Span(picture, className="scrolls", tabIndex="0")


@cache
def _parser() -> MarkdownIt:
    # With HTML on, it is told from text, and so can be left out.
    return MarkdownIt("commonmark", {"html": True}).enable("table")


class _Writer:
    """Writes one text."""

    def __init__(self, *, anchored: bool) -> None:
        self._anchored = anchored
        self._taken: Counter[str] = Counter()

    def all_of(self, node: SyntaxTreeNode) -> list[Component]:
        """The components within a node. Raises KeyError for what no page of the manual may hold."""
        found: list[Component] = []
        for child in node.children:
            if child.type == "inline":
                found += self.all_of(child)
            elif not child.type.startswith("html_"):
                found.append(self._one(child))
        return found

    def _one(self, node: SyntaxTreeNode) -> Component:
        kind = node.type
        if kind in ("text", "softbreak"):
            return node.content if kind == "text" else "\n"
        if kind == "code_inline":
            return html.Code(node.content)
        if kind == "fence":
            return html.Pre(html.Code(node.content.rstrip("\n")), tabIndex="0")
        if kind == "heading":
            return self._heading(node)
        if kind == "link":
            return self._link(node)
        if kind == "image":
            return _picture(str(node.attrs["src"]), node.content)
        if kind == "th":
            return html.Th(self.all_of(node), scope="col")
        inside = self.all_of(node)
        if kind == "paragraph" and any(part.type == "image" for child in node.children for part in child.children):
            return html.P(inside, className="pictured")
        made = getattr(html, _PLAIN[kind])(inside)
        return html.Div(made, className="scrolls", tabIndex="0") if kind == "table" else made

    def _heading(self, node: SyntaxTreeNode) -> Component:
        words = node.children[0].content
        names = {"id": anchor_of(words, self._taken)} if self._anchored else {}
        return getattr(html, node.tag.upper())(self.all_of(node), **names)

    def _link(self, node: SyntaxTreeNode) -> Component:
        address = manual_address(str(node.attrs["href"]))
        return html.A(self.all_of(node), href=address) if address else html.Span(self.all_of(node))
