"""The watch beside the cooker: readings in, recordings kept, progress estimated.

For notebooks and programs; each name is loaded when it is first asked for:

- ``cooks(folder)``, ``open_cook(path)``: recordings, as pandas frames with units;
- ``stated_times(folder)``: the clear times that were stated along the cooks, and what came;
- ``outcomes(folder)``: how batches looked after their week, beside the figures of recipe and course;
- ``read_table(path)``: a CSV file that another program wrote, as such a frame;
- ``estimate(readings, events, batch)``: how far the saponification is, by such frames; ``Estimator`` is the model
  behind it;
- ``plots``: plotly figures of such frames.

>>> import monitor
>>> cook = monitor.open_cook("recordings/2026-05-02T090000Z-invented-smooth.cook")
>>> cook.readings().columns.tolist()
['paste_c', 'wall_c', 'room_c']
"""

import os
from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor import plots
    from monitor.api import OpenedCook, cooks, estimate, open_cook, outcomes, stated_times
    from monitor.estimation import Estimator
    from monitor.exchange import read_table

# numpy's linear algebra starts a thread for each core, which after every larger product spins for milliseconds in case
# another one follows. Ours are small, and a page that asks every two seconds paid more for the spinning than for all
# the rest. numpy reads this as it is loaded, so it is set before any module of this package can load it.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__all__ = [
    "Estimator",
    "OpenedCook",
    "cooks",
    "estimate",
    "open_cook",
    "outcomes",
    "plots",
    "read_table",
    "stated_times",
]

_HOMES = {
    "Estimator": "monitor.estimation",
    "OpenedCook": "monitor.api",
    "cooks": "monitor.api",
    "estimate": "monitor.api",
    "open_cook": "monitor.api",
    "outcomes": "monitor.api",
    "read_table": "monitor.exchange",
    "stated_times": "monitor.api",
}


def __getattr__(name: str) -> object:
    """Loads a public name when it is first asked for (PEP 562), so that ``import monitor`` stays light."""
    if name == "plots":
        return import_module("monitor.plots")
    if name not in _HOMES:
        raise AttributeError(f"module 'monitor' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
