"""Ten thousand made-up requests; ``python -m tests.bench.fuzz_dashboard`` throws as many as are wanted."""

import logging
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from hypothesis import example, given, settings
from hypothesis import strategies as st

from dashboard.app import make_app
from monitor.session import CookLibrary
from tests.bench.fuzz_dashboard import run
from tests.dashboard.seeded import Maker


@pytest.mark.long
def test_ten_thousand_requests_are_answered_as_documented(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.ERROR)
    counted = run(10_000, 1, tmp_path)
    assert sum(counted.values()) == 10_000
    # Requests were admitted and refused, each for every reason there is.
    assert all(counted[status] > 20 for status in (200, 400, 401, 403, 404, 421))


@pytest.fixture(scope="module")
def walled(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, CookLibrary]:
    """A folder beside secrets: above it, below it, and behind a link out of it."""
    place = tmp_path_factory.mktemp("walled")
    folder = place / "recordings"
    folder.mkdir()
    for path in (place, folder / "below"):
        path.mkdir(exist_ok=True)
        maker = Maker(path, hours=0.05, title="Kept apart 7141")
        maker.finish()
        maker.path.rename(path / "secret.cook")
    return folder, CookLibrary(folder)


TRICKS = st.sampled_from(
    [
        "..",
        ".",
        "/",
        "\\",
        "%2e",
        "%2f",
        "%252e",
        "\x00",
        "．．",
        "／",
        "∕",
        "\u202e",
        "secret",
        "below",
        ".cook",
        "recordings",
        "~",
        ":",
        " ",
    ]
)


@settings(max_examples=400, deadline=None)
@example(parts=["..", "/", "secret"])
@example(parts=["below", "/", "secret"])
@given(parts=st.lists(TRICKS | st.text(max_size=4), max_size=7))
@pytest.mark.long
def test_no_name_reaches_outside_the_folder(walled: tuple[Path, CookLibrary], parts: list[str]) -> None:
    folder, library = walled
    client = _client(folder, library)
    name = "".join(parts).encode("utf-8", "replace").decode()
    answers = [client.get(path, query_string={"cook": name}) for path in ("/live", "/bench")]
    for path in ("/cooks/", "/then/", "/record/", "/assets/", "/bench/", "/_dash-component-suites/dash/"):
        at = f"/cooks/{name}/then" if path == "/then/" else path + name
        answers.append(client.get("/", environ_overrides={"PATH_INFO": at.encode("utf-8").decode("latin-1")}))
    for answer in answers:
        assert answer.status_code < 500 and "Kept apart 7141" not in answer.text


def test_a_link_out_of_the_folder_reveals_nothing_of_its_target(walled: tuple[Path, CookLibrary]) -> None:
    folder, library = walled
    (folder / "passwd.cook").symlink_to("/etc/passwd")
    (folder / "key.cook").symlink_to(folder / ".kettleside" / "pairing-key")
    try:
        client = _client(folder, library)
        for name in ("passwd", "key"):
            for path in (f"/cooks/{name}/then?t=5", f"/cooks/{name}", f"/record/{name}", "/cooks"):
                answer = client.get(path)
                assert answer.status_code in (200, 404, 503) and "root:" not in answer.text
    finally:
        (folder / "passwd.cook").unlink()
        (folder / "key.cook").unlink()


_MADE: dict[Path, FlaskClient] = {}


def _client(folder: Path, library: CookLibrary) -> FlaskClient:
    if folder not in _MADE:
        client = make_app(library, "key").test_client()
        client.get("/?key=key")
        _MADE[folder] = client
    return _MADE[folder]
