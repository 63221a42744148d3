"""Whether Chromium would put the app on a home screen."""

import pytest

from tests.browser.conftest import Phone

pytestmark = pytest.mark.browser


def test_chromium_finds_a_manifest_without_errors_and_may_install(phone: Phone) -> None:
    page = phone("/set-up")
    ask = page.context.new_cdp_session(page)
    manifest = ask.send("Page.getAppManifest")
    assert manifest["url"].endswith("/manifest.webmanifest") and manifest["errors"] == []
    # A test's browser keeps nothing, in which Chromium installs nothing; it finds no other reason.
    errors = ask.send("Page.getInstallabilityErrors")["installabilityErrors"]
    assert [error["errorId"] for error in errors] == ["in-incognito"]
