"""The first answer: the whole page as plain HTML with its data, which Dash takes over once it has started.

The page's own small scripts fill it in before anything is painted, so that nothing moves about afterwards. Dash's
scripts run next, and plotly, by far the largest, is fetched once the browser is idle.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from dash import Dash
from flask import g, request
from werkzeug.exceptions import HTTPException
from werkzeug.routing import Map, Rule

from dashboard.access_control import is_view_only
from dashboard.pages import lost
from dashboard.pages.markup import data_block, markup
from dashboard.pages.parts import Page
from dashboard.pages.shell import bar_markup, place_of
from dashboard.pages.tags import Component, dcc

# Dash brings these to every page: its table, of which no page here has one, and a polyfill for browsers of before
# 2018. The one part of it that Dash still needs is among the assets.
UNUSED_SCRIPTS = ("/dash_table/", "/deps/polyfill@")
PLOTLY = "plotly-basic"
# Of the page's own scripts the one that starts it, and so needs the page.
START = "/assets/50-pages.js"
# The page's own scripts, by the number that orders the assets; those of others come after them.
_OWN = re.compile(r"/assets/[0-5]\d-")
_FILE = re.compile(r'<script src="([^"]+)"></script>\n?')

_INDEX = """<!DOCTYPE html>
<html lang="en-GB"{may}><head>{metas}<title>{title}</title><meta name="color-scheme" content="light dark">
<link rel="icon" href="data:image/svg+xml,%3Csvg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 16 16'%3E%3Cpath
 d='M2 5h12v6q0 3-3 3H5q-3 0-3-3zM1 3h14v1H1z' fill='%23806030'/%3E%3C/svg%3E">{css}{first_scripts}</head>
<body{plotly}><noscript>This page needs JavaScript.</noscript>{shell}<div id="first-paint">{page}{start}</div>
<div id="taken-over" hidden>{app_entry}</div>
<footer>{config}{later_scripts}{renderer}</footer></body></html>
"""

# By this attribute the style sheet hides the buttons from a view-only link.
VIEW_ONLY_ATTRIBUTE = ' data-may="look"'

Layout = Callable[..., Page]


class PageApp(Dash):
    """Dash with an index page of our own. ``routes`` must be set before the first request."""

    routes: Map

    def interpolate_index(self, *_given: Any, **parts: Any) -> str:
        # The policy then names Dash's inline scripts by their hashes.
        g.drawn_by_dash = True
        found = self._page()
        page = markup(found.main) + data_block("first-look", found.start)
        files = [src for src in _FILE.findall(parts["scripts"]) if not any(name in src for name in UNUSED_SCRIPTS)]
        own = [src for src in files if _OWN.match(src)]
        plotly = next(src for src in files if PLOTLY in src)
        return _INDEX.format(
            may=VIEW_ONLY_ATTRIBUTE if is_view_only() else "",
            metas=parts["metas"],
            title=parts["title"],
            css=parts["css"],
            first_scripts=_at_once(src for src in own if not src.startswith(START)),
            # Only a page with a curve pays for plotly.
            plotly=f' data-plotly-src="{plotly}"' if 'id="curve-place"' in page else "",
            page=page,
            start=_at_once(src for src in own if src.startswith(START)),
            # Outside what Dash takes over, so that it never moves.
            shell=bar_markup(place_of(request.path), with_line='id="alert-line"' not in page),
            app_entry=parts["app_entry"],
            config=parts["config"],
            later_scripts=_deferred(src for src in files if src not in own and src != plotly)
            + _later(_FILE.sub("", parts["scripts"])),
            renderer=_later(parts["renderer"]),
        )

    def _page(self) -> Page:
        try:
            layout, found = self.routes.bind("").match(request.path)
        except HTTPException:
            layout, found = lost.layout, {}
        page: Page = layout(**{**request.args.to_dict(), **found})
        return page


def routes_of(layouts: Mapping[str, Layout]) -> Map:
    """Paths, with their variables in angle brackets, to layouts."""
    return Map([Rule(path, endpoint=layout) for path, layout in layouts.items()])


def for_dash(layout: Layout) -> Callable[..., Component]:
    """A layout as Dash wants it. The data came with the page already."""

    def put_up(**asked: str) -> Component:
        return [layout(**asked).main, dcc.Store(id="start", data=True), dcc.Store(id="taken")]

    return put_up


def _at_once(files: Iterable[str]) -> str:
    """The page's own scripts, which hold up the first paint: a page painted empty would move when it is filled in."""
    return "".join(f'<script src="{src}"></script>' for src in files)


def _deferred(files: Iterable[str]) -> str:
    return "".join(f'<script defer src="{src}"></script>' for src in files)


def _later(inline: str) -> str:
    """Inline scripts as modules, the one kind of which waits, as files with ``defer`` do, and in their order."""
    return re.sub(r"<script( id=\"[^\"]+\")?( type=\"application/javascript\")?>", r'<script\1 type="module">', inline)
