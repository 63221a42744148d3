"""The first answer: the whole page as plain HTML with its data, which Dash takes over once it has started.

The page's own small scripts fill it in before anything is painted, so that nothing moves about afterwards. Dash's
scripts run next, and plotly, by far the largest, is fetched once the browser is idle.
"""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from html import escape
from inspect import signature
from typing import Any
from urllib.parse import parse_qs, unquote

from dash import Dash, Input, Output
from flask import Response, g, request
from werkzeug.exceptions import HTTPException
from werkzeug.routing import Map, Rule

from dashboard.auth.access_control import LOOKS_ONLY, is_view_only
from dashboard.auth.addresses import is_for_owners
from dashboard.components.answers import status_of, told
from dashboard.components.chart import PLACE_CLASS, READY, chart_attributes
from dashboard.components.in_browser import in_browser
from dashboard.components.installable import head_lines
from dashboard.components.markup import data_block, markup
from dashboard.components.parts import Page, refusal
from dashboard.components.shell import bar_markup, place_of
from dashboard.components.tags import Component, dcc, html
from dashboard.pages import lost
from monitor.runtime import MonitorError

# Dash brings these to every page: its table, of which no page here has one, and a polyfill for browsers of before
# 2018. The one part of it that Dash still needs is among the assets.
UNUSED_SCRIPTS = ("/dash_table/", "/deps/polyfill@")
PLOTLY = "plotly-lean"
# Of the page's own scripts the one that starts it, and so needs the page.
START = "/assets/50-pages.js"
# The page's own scripts, by the number that orders the assets; those of others come after them.
_OWN = re.compile(r"/assets/[0-5]\d-")
_FILE = re.compile(r'<script src="([^"]+)"></script>\n?')

_INDEX = """<!DOCTYPE html>
<html lang="en-GB"{may}{wall}><head>{metas}<title>{title}</title><meta name="color-scheme" content="light dark">
{installing}{css}{first_scripts}</head>
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
        found = self.page_at(request.path, request.args.to_dict(flat=False))
        # Dash makes an answer of the text, and leaves no other way to say how the request went.
        g.page_status = found.status
        page = markup(found.main) + data_block("first-look", found.start)
        files = [src for src in _FILE.findall(parts["scripts"]) if not any(name in src for name in UNUSED_SCRIPTS)]
        own = [src for src in files if _OWN.match(src)]
        plotly = next(src for src in files if PLOTLY in src)
        return _INDEX.format(
            may=VIEW_ONLY_ATTRIBUTE if is_view_only() else "",
            wall=" data-wall" if '<main class="wall">' in page else "",
            metas=parts["metas"],
            installing=head_lines(),
            title=escape(found.title or parts["title"]),
            css=parts["css"],
            first_scripts=_at_once(src for src in own if not src.startswith(START)),
            # Only a page with a chart pays for plotly.
            plotly=chart_attributes(plotly) if f'class="{PLACE_CLASS}"' in page else "",
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

    def page_at(self, path: str, asked: Mapping[str, Sequence[str]]) -> Page:
        """The page of an address; one sentence where there is none or its layout refuses.

        path: unquoted. asked: the query; the layout gets a list where something is asked for several times.
        """
        try:
            rule, found = self.routes.bind("").match(path, return_rule=True)
        except HTTPException:
            return lost.layout()
        # Asked again here, because Dash puts every page up by one address, and of the rule, which several spellings of
        # a path lead to.
        if is_view_only() and is_for_owners(rule.rule):
            return refusal(LOOKS_ONLY, 403)
        try:
            query = {key: _asked(rule.endpoint, key, values) for key, values in asked.items()}
            page: Page = rule.endpoint(**{**query, **found})
        except (MonitorError, ValueError) as error:
            return refusal(told(error), status_of(error))
        return page

    def add_pages(self, pages: Iterable[Any]) -> None:
        """Adds modules of ``dashboard.pages``, each with ``PATH``, ``layout`` and perhaps ``register``."""
        modules = list(pages)
        self.routes = Map([Rule(module.PATH, endpoint=module.layout) for module in modules])
        self.layout = [
            dcc.Location(id="address", refresh="callback-nav"),
            html.Div(id="page"),
            dcc.Store(id="taken"),
            dcc.Store(id=READY),
        ]
        for module in modules:
            if hasattr(module, "register"):
                module.register(self)

        @self.callback(Output("page", "children"), Input("address", "pathname"), Input("address", "search"))
        def put_up(pathname: str, search: str) -> Component:
            # The data came with the page already.
            page = self.page_at(unquote(pathname), parse_qs((search or "").removeprefix("?"), keep_blank_values=True))
            return [page.main, dcc.Store(id="start", data=True)]

        # Once Dash has rendered the page, the page's own scripts hand it over.
        in_browser(self, "takeOver", Output("taken", "data"), Input("start", "data"))


def _asked(layout: Layout, key: str, values: Sequence[str]) -> str | list[str]:
    """The value of a query's key; all of them where they are several and the layout takes a sequence of them."""
    parameter = signature(layout).parameters.get(key)
    several = parameter is not None and "Sequence" in str(parameter.annotation)
    return list(values) if several and len(values) > 1 else values[0]


def _at_once(files: Iterable[str]) -> str:
    """The page's own scripts, which hold up the first paint: a page painted empty would move when it is filled in."""
    return "".join(f'<script src="{src}"></script>' for src in files)


def _deferred(files: Iterable[str]) -> str:
    return "".join(f'<script defer src="{src}"></script>' for src in files)


def _later(inline: str) -> str:
    """Inline scripts as modules, the one kind of which waits, as files with ``defer`` do, and in their order."""
    return re.sub(r"<script( id=\"[^\"]+\")?( type=\"application/javascript\")?>", r'<script\1 type="module">', inline)


def set_status(response: Response) -> Response:
    """Gives the answer the status of the page that it holds."""
    response.status_code = g.get("page_status", response.status_code)
    return response
