"""What every page answers with: a page made from a template, JSON, or one sentence of refusal."""

import json
import re
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path

from flask import Response, render_template, request
from markupsafe import Markup

from dashboard.components.shell import bar_markup
from monitor.runtime import MonitorError
from monitor.storage import RecordingError

ASSETS = Path(__file__).parents[1] / "assets"
View = Callable[..., Response]
# A page's own requests go down to about ten.
DEEPEST_JSON = 64
_STRING = re.compile(r'"(?:[^"\\]|\\.)*"', re.DOTALL)


class AskedError(MonitorError):
    """What a page asked for cannot be done. why: one sentence."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


def asset(name: str) -> str:
    """The address of one of our own files, which changes with the file."""
    return f"/assets/{name}?m={(ASSETS / name).stat().st_mtime}"


def shell_bar(here: str) -> Markup:
    """The bar of places for a template, with that of the page marked."""
    return Markup(bar_markup(here))


def rendered(template: str, **facts: object) -> Response:
    """The page that a template makes of these facts."""
    return Response(render_template(template, asset=asset, shell_bar=shell_bar, **facts), mimetype="text/html")


def refused(template: str, words: str, status: int) -> Response:
    """The page that a template makes of a refusal."""
    page = rendered(template, words=sentence(words))
    page.status_code = status
    return page


def as_json(answer: Mapping[str, object], status: int = 200) -> Response:
    """An answer for a script."""
    text = json.dumps(answer, separators=(",", ":"), allow_nan=False)
    return Response(text, status, mimetype="application/json")


def as_text(words: str, status: int) -> Response:
    """A refusal for a script that shows it as it comes."""
    return Response(sentence(words), status, mimetype="text/plain")


def sentence(words: str) -> str:
    """With a capital and one full stop.

    >>> sentence("there is no such cook")
    'There is no such cook.'
    """
    return words[:1].upper() + words[1:].rstrip(".") + "."


def request_body() -> dict[str, object]:
    """What a script sent. Raises AskedError where it is no JSON object."""
    asked = request.get_json(silent=True)
    if not isinstance(asked, dict):
        raise AskedError("The request must be a JSON object.")
    return asked


def refuse_deep_json() -> Response | None:
    """Refuses, before anything reads it, a JSON body nested more deeply than any page sends; for every address.

    Python's parser and whoever walks what it read go one call deeper at each bracket, and end where the stack does.
    """
    if not request.is_json:
        return None
    body = request.get_data()
    try:
        deep = depth_of(body.decode(json.detect_encoding(body), "surrogatepass")) > DEEPEST_JSON
    except UnicodeDecodeError:
        # No JSON at all, which is refused where it is read.
        return None
    return as_text("the request is nested too deeply", 400) if deep else None


def depth_of(text: str) -> int:
    """How many brackets and braces of a JSON text stand open at once; those within strings do not count.

    >>> depth_of('{"a": [1, [2, "]]{{{["]]}')
    3
    """
    deepest = depth = 0
    for mark in _STRING.sub("", text):
        if mark in "[{":
            depth += 1
            deepest = max(deepest, depth)
        elif mark in "]}":
            depth -= 1
    return deepest


def guarded(
    view: View,
    refusal: Callable[[Exception, int], Response],
    lock: AbstractContextManager[object] | None = None,
) -> View:
    """The view, held by ``lock``, with what it cannot do answered by ``refusal`` of the error and its HTTP status."""

    def answer(**found: str) -> Response:
        try:
            with lock or nullcontext():
                return view(**found)
        except (MonitorError, ValueError) as error:
            return refusal(error, status_of(error))

    return answer


def told(error: Exception) -> str:
    """What a page says of an error; of a cook that is not here, nothing about files, of which a phone knows none.

    >>> told(RecordingError(Path("monday.cook"), "there is no such file"))
    'There is no cook of this name here; it may have been deleted.'
    """
    if status_of(error) == 404:
        return "There is no cook of this name here; it may have been deleted."
    return sentence(str(error))


def status_of(error: Exception) -> int:
    """What a browser is told of an error: 404 for a recording that is not there, 503 for an unfit one, else 400."""
    if isinstance(error, RecordingError):
        return 404 if "no such" in error.why else 503
    return 400
