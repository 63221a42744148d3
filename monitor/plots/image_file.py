"""A figure written to a file: a page that needs nothing from elsewhere, or a picture."""

from pathlib import Path

import plotly.graph_objects as go

from monitor.plots.style import HEIGHT_PX, WIDTH_PX
from monitor.runtime import MonitorError

FORMATS = (".html", ".svg", ".png")


class PlotError(MonitorError):
    """A figure that cannot be written. path: the file; why: one clause."""

    def __init__(self, path: Path, why: str) -> None:
        self.path = path
        self.why = why
        super().__init__(f"{path}: {why}.")


def write_figure(figure: go.Figure, path: Path) -> None:
    """Writes a figure by the end of the file's name: .html, .svg or .png.

    A page holds plotly's script whole (some 5 MB) and loads nothing. A picture takes the library kaleido and a
    Chromium on this machine. Raises PlotError.
    """
    suffix = path.suffix.lower()
    if suffix not in FORMATS:
        raise PlotError(path, f"its name must end with {', '.join(FORMATS[:-1])} or {FORMATS[-1]}")
    if suffix == ".html":
        content = figure.to_html(
            include_plotlyjs=True, config={"displaylogo": False, "showSendToCloud": False}
        ).encode()
    else:
        content = _image(figure, suffix[1:], path)
    try:
        path.write_bytes(content)
    except OSError as error:
        raise PlotError(path, (error.strerror or str(error)).lower()) from None


def _image(figure: go.Figure, kind: str, path: Path) -> bytes:
    """A figure as SVG or PNG, drawn by a Chromium that is started for it and ended again."""
    try:
        import kaleido
        from choreographer.errors import ChromeNotFoundError
    except ImportError:
        raise PlotError(
            path,
            "a picture takes a library that is not installed here; `pip install kaleido` in kettleside's environment "
            "brings it, or write a .html file",
        ) from None
    size = {"format": kind, "width": WIDTH_PX, "height": HEIGHT_PX}
    # Without this the page would ask a host elsewhere for a script that sets formulas, of which there are none.
    page = kaleido.PageGenerator(mathjax=False)
    try:
        return bytes(kaleido.calc_fig_sync(figure, opts=size, kopts={"page_generator": page}))
    except ChromeNotFoundError:
        raise PlotError(
            path, "a picture takes a browser; install Chromium (`apt install chromium`), or write a .html file"
        ) from None
