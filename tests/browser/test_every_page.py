"""Every page in Chromium: nothing for axe-core to find, in both colour schemes, and HTML as the standard has it.

axe-core tests what a machine can of WCAG 2.2 (its rules name the success criterion) and of the practices it advises; all
that can be unfolded is open, and every dialog is shown. The Nu HTML checker tests against the HTML standard.
"""

import json
import os
import re
import shutil
import socket
import subprocess
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from dashboard.app import make_app
from dashboard.server.http_server import Server
from monitor.session import CookLibrary
from tests.browser.conftest import KEY, taken_over
from tests.browser.every_page import every_page, kitchen, led_to_by_nobody
from tests.dashboard.serving import running

pytestmark = pytest.mark.browser

SIZE: Any = {"width": 390, "height": 844}
UNFOLDED = "document.querySelectorAll('details').forEach((each) => { each.open = true; })"
# Those that axe-core has on by itself, and the contrast of 7:1 that is meant here (WCAG 2.2, criterion 1.4.6).
EVERY_RULE = {"rules": {"color-contrast-enhanced": {"enabled": True}}}
# What each rule found, and where.
FOUND = """async ([part, rules]) => (await axe.run(part, { resultTypes: ["violations"], ...rules })).violations
  .flatMap(({ id, nodes }) => nodes.map((node) => `${id}: ${node.target.join(" ")}: `
    + node.any.concat(node.all, node.none).map((one) => one.message).join("; ")))"""
# What Dash itself puts into a page that stands, and no page of ours can change.
OF_DASH = (
    # Container queries (CSS Containment, level 3), which browsers know and the checker does not yet.
    r"CSS: “container-type”: Property “container-type” doesn't exist\.",
    r"CSS: Unrecognized at-rule “@container”",
    r"CSS: “m(in|ax)-width”: Unknown dimension\.",
    # Its styles are put before the page's head, long after the charset was read from the head as it came.
    r"A “charset” attribute on a “meta” element found after the first 1024 bytes\.",
    # Defaults of its input, which browsers pass over.
    r"Attribute “step” not allowed on element “input” at this point\.",
    r"Bad value “verbatim” for attribute “inputmode” on element “input”\.",
    r"An “input” element with a “type” attribute whose value is “hidden” must not have an “autocomplete” attribute .*",
)


def of_npm(variable: str, what: str) -> Path:
    """A file of an npm package, where CI has put it."""
    path = Path(os.environ.get(variable, ""))
    assert path.is_file(), f"set {variable} to {what}, installed by npm install --prefix FOLDER"
    return path


@dataclass
class Visit:
    """A page as it came, as it stood when Dash had taken over and all was drawn, and what axe-core found in it."""

    came: str
    stood: str
    wrong: list[str]


@pytest.fixture(scope="module", params=["no cook", "cooks"])
def visits(
    request: pytest.FixtureRequest, browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Visit]:
    """Every page of a kitchen, by its address."""
    axe = of_npm("KETTLESIDE_AXE", "axe.min.js of the npm package axe-core").read_text(encoding="utf-8")
    folder = tmp_path_factory.mktemp("kitchen")
    some = request.param == "cooks"
    # Without transitions, amid which a colour is that of no scheme.
    context = browser.new_context(viewport=SIZE, has_touch=True, reduced_motion="reduce")
    page = context.new_page()
    app = make_app(CookLibrary(folder), KEY)
    listener = socket.create_server(("127.0.0.1", 0))
    with kitchen(folder) if some else nullcontext(), running(Server(app, listener, None)) as server:
        address = f"http://127.0.0.1:{server.effective_port}"
        met = {"the door": visited(page, address, axe)}
        page.goto(f"{address}/set-up?key={KEY}")
        pages = every_page(make_app(CookLibrary(folder), KEY))
        assert not some or led_to_by_nobody(pages) == set()
        for path in (*pages, "/nowhere", "/record/nothing", "/probes/nothing/baths"):
            met[path] = visited(page, address + path, axe)
    context.close()
    return met


def visited(page: Page, address: str, axe: str) -> Visit:
    answer = page.goto(address)
    assert answer is not None
    came = answer.text()
    if page.locator("#taken-over").count():
        taken_over(page)
    page.wait_for_load_state("networkidle")
    stood = page.content()
    page.evaluate(UNFOLDED)
    page.evaluate(axe)
    wrong: list[str] = []
    # The scheme changes nothing but colours.
    schemes: list[tuple[Any, object]] = [("light", EVERY_RULE), ("dark", {"runOnly": ["cat.color"]})]
    for scheme, rules in schemes:
        page.emulate_media(color_scheme=scheme)
        wrong += page.evaluate(FOUND, ["html", rules])
        for each in page.locator("dialog").all():
            each.evaluate("(one) => one.showModal()")
            wrong += page.evaluate(FOUND, ["dialog[open]", rules])
            each.evaluate("(one) => one.close()")
    return Visit(came, stood, wrong)


def test_axe_finds_nothing_on_any_page(visits: dict[str, Visit]) -> None:
    told = [f"{path}: {each}" for path, visit in visits.items() for each in visit.wrong]
    assert not told, "\n".join(told)


def test_every_page_comes_as_valid_html(visits: dict[str, Visit], tmp_path: Path) -> None:
    told = errors_of({path: visit.came for path, visit in visits.items()}, tmp_path)
    assert not told, "\n".join(told)


def test_every_page_stands_as_valid_html_but_for_what_is_dashs_own(visits: dict[str, Visit], tmp_path: Path) -> None:
    every = errors_of({path: visit.stood for path, visit in visits.items()}, tmp_path)
    told = [each for each in every if not any(re.search(known, each) for known in OF_DASH)]
    assert not told, "\n".join(told)


def test_the_checker_tells_of_what_is_wrong(tmp_path: Path) -> None:
    page = "<!DOCTYPE html><html lang=en><meta charset=utf-8><title>Wrong</title><body><p id='a b'></p>"
    (told,) = errors_of({"/wrong": page}, tmp_path)
    assert told.startswith("/wrong: ") and "An ID must not contain whitespace." in told


def errors_of(pages: dict[str, str], folder: Path) -> list[str]:
    """Every breach of the HTML standard; what the checker advises besides is not one."""
    checker = of_npm("KETTLESIDE_VNU", "build/dist/vnu.jar of the npm package vnu-jar")
    assert shutil.which("java"), "java is not on the path"
    files = {folder / f"{number}.html": path for number, path in enumerate(pages)}
    for file, path in files.items():
        file.write_text(pages[path], encoding="utf-8")
    words = ["java", "-jar", str(checker), "--format", "json", "--exit-zero-always", *map(str, files)]
    done = subprocess.run(words, capture_output=True, text=True, timeout=300, check=True)
    told = [each for each in json.loads(done.stderr)["messages"] if each["type"] != "info"]
    return [
        f"{files[Path(each['url'].removeprefix('file:'))]}: {each['message']}: {each.get('extract', '')}"
        for each in told
    ]
