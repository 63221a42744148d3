"""One callback for each output of Dash's pages: of two the browser runs neither, and says so only while debugging."""

import json
from collections import Counter
from pathlib import Path

from flask.testing import FlaskClient

from dashboard.app import make_app
from monitor.session import CookLibrary


def test_no_two_callbacks_write_the_same_output(tmp_path: Path) -> None:
    client: FlaskClient = make_app(CookLibrary(tmp_path), "key").test_client()
    client.get("/?key=key")
    found = json.loads(client.get("/_dash-dependencies").text)
    outputs = [one for callback in found for one in callback["output"].strip(".").split("...")]
    assert len(outputs) > 20
    assert [one for one, times in Counter(outputs).items() if times > 1 and "@" not in one] == []
