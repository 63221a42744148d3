"""The pages: a module each, with ``PATH`` (its address, as a rule of werkzeug), ``layout`` and perhaps ``register``.

``layout`` gives a ``parts.Page`` for every visit, once as plain HTML and once for Dash; ``register`` adds the callbacks
by which the page changes. Modules without ``PATH`` are parts of pages.
"""

from importlib import import_module
from pkgutil import iter_modules
from types import ModuleType


def page_modules() -> list[ModuleType]:
    """Every module of this package that is a page, by its name."""
    modules = [import_module(f"{__name__}.{found.name}") for found in iter_modules(__path__)]
    return [module for module in modules if hasattr(module, "PATH")]
