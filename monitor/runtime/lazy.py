"""Package faces whose modules load on first use (PEP 562), where loading them all would cost a small process memory."""

from collections.abc import Callable, Mapping, Sequence
from importlib import import_module


def lazy_exports(package: str, modules: Mapping[str, Sequence[str]]) -> Callable[[str], object]:
    """A package's ``__getattr__``, which loads the module of a public name when the name is first asked for.

    package: its dotted name. modules: module name below the package -> the public names that it defines.

    >>> lazy_exports("monitor.runtime", {"errors": ("MonitorError",)})("MonitorError").__name__
    'MonitorError'
    """
    homes = {name: module for module, names in modules.items() for name in names}

    def load(name: str) -> object:
        home = homes.get(name)
        if home is None:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(import_module(f"{package}.{home}"), name)

    return load
