"""Dash's HTML and core components, untyped.

Dash's own stubs refuse the ``data-`` and ``aria-`` attributes that its components take.
"""

from typing import Any, TypeAlias

import dash

html: Any = dash.html
dcc: Any = dash.dcc
Component: TypeAlias = Any
