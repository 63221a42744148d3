"""The manual in the app: pages, links between them, and the search."""

import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from dashboard.app import make_app
from dashboard.components.manual_text import INDEX, page_names, page_text, passages, passages_of
from dashboard.components.markdown import components
from dashboard.components.markup import markup
from monitor.session import CookLibrary
from tests.dashboard.dash_requests import answer_of, page_of
from tests.manual_pictures import MANUAL, PICTURES, draw

# Ids of what stands around every page.
TAKEN = {"title", "page", "address", "start", "taken", "charts-ready", "alert-line", "first-paint", "taken-over"}


@pytest.fixture
def client(tmp_path: Path) -> FlaskClient:
    client = make_app(CookLibrary(tmp_path), "key").test_client()
    client.get("/?key=key")
    return client


def test_markdown_is_escaped_and_html_in_it_left_out() -> None:
    text = "## A & B\n<!-- a remark -->\n\n`<b>` and <i>so</i> [x](javascript:alert(1)) **5 < 6**\n\n<div>no</div>\n"
    assert markup(components(text)) == (
        '<h2 id="a--b">A &amp; B</h2><p><code>&lt;b&gt;</code> and so [x](javascript:alert(1)) <b>5 &lt; 6</b></p>'
    )


def test_links_lead_to_pages_of_the_app_and_others_are_words() -> None:
    text = (
        "[a](sources.md) [b](sources.md#names-and-units) [c](#d) [e](README.md) [f](../../x.py) [g](https://g.example)"
    )
    assert re.findall(r'<a href="([^"]*)">(\w)', markup(components(text))) == [
        ("/manual/sources", "a"),
        ("/manual/sources#names-and-units", "b"),
        ("#d", "c"),
        ("/manual", "e"),
    ]


def test_tables_and_blocks_scroll_by_themselves_also_by_keys() -> None:
    text = "| a | b |\n| --- | --- |\n| 1 | `2` |\n\n```sh\nx < y\n```\n"
    assert markup(components(text)) == (
        '<div class="scrolls" tabindex="0"><table><thead><tr><th scope="col">a</th><th scope="col">b</th></tr></thead>'
        '<tbody><tr><td>1</td><td><code>2</code></td></tr></tbody></table></div><pre tabindex="0"><code>x &lt; y</code></pre>'
    )


@pytest.mark.parametrize("name", [name for name in page_names() if name != INDEX])
def test_every_page_is_there_at_the_first_paint_with_its_anchors(client: FlaskClient, name: str) -> None:
    answer = client.get(f"/manual/{name}")
    assert answer.status_code == 200
    (main,) = re.findall(r"<main>.*?</main>", answer.text, re.DOTALL)
    title, *others = passages_of(name)
    assert re.findall(r'<h[2-6] id="([^"]+)"', main) == [one.anchor for one in others]
    assert not TAKEN & {one.anchor for one in others}
    assert "&lt;!--" not in main
    assert main.count("<pre") == len(re.findall(r"(?m)^```\w+$", "\n".join(one.text for one in (title, *others))))


def test_every_link_of_the_manual_leads_to_a_page_or_a_heading(client: FlaskClient) -> None:
    anchors = {(one.page, one.anchor) for one in passages()}
    for name in page_names():
        path = "/manual" if name == INDEX else f"/manual/{name}"
        (main,) = re.findall(r"<main>.*?</main>", client.get(path).text, re.DOTALL)
        for link in re.findall(r'href="([^"]*)"', main):
            page, _, anchor = link.partition("#")
            target = page.removeprefix("/manual").lstrip("/") if page else name
            assert link == "/manual" or (target in page_names() if not anchor else (target, anchor) in anchors), link


def test_the_list_has_every_page_in_its_groups(client: FlaskClient) -> None:
    (main,) = re.findall(r"<main>.*?</main>", client.get("/manual").text, re.DOTALL)
    assert re.findall(r'<a href="/manual/([\w-]+)"', main) == page_names()[1:]
    assert [group.heading for group in passages_of(INDEX)[1:]] == re.findall(r"<h2>([^<]+)</h2>", main)


def test_words_in_the_address_are_searched_for_at_the_first_paint(client: FlaskClient) -> None:
    page = client.get("/manual?words=paste+cooling").text
    assert 'href="/manual/alarms#paste-cooling"' in page and "Look at the plug and the setting" in page
    assert 'value="paste cooling"' in page


def test_typing_finds_and_what_is_not_there_is_said(client: FlaskClient) -> None:
    def found(words: str | None) -> str:
        return answer_of(client, ("manual-found", "children"), {("manual-words", "value"): words})

    assert "/manual/alarms#lid-left-off" in found("lid")
    assert "The manual says nothing of" in found("<b>zzz")
    assert "/manual/first-cook" in found(None) and "/manual/first-cook" in found("  ")


def test_hostile_words_are_text(client: FlaskClient) -> None:
    page = client.get('/manual?words="><script>alert(1)</script>').text
    assert "<script>alert(1)" not in page


def test_a_page_that_is_not_there_is_refused(client: FlaskClient) -> None:
    for path in ("/manual/none", "/manual/README", "/manual/..%2fapp"):
        assert client.get(path).status_code == 404


def test_set_up_leads_to_the_manual(client: FlaskClient) -> None:
    assert 'href="/manual"' in client.get("/set-up").text
    assert "/manual/alarms" in page_of(client, "/manual")


def test_a_refusal_on_a_page_leads_to_what_the_manual_says_of_it(client: FlaskClient) -> None:
    page = client.get("/?cook=none").text
    (way,) = re.findall(r'href="(/manual[?]words=[^"]*)"', page)
    assert "/manual/refusals#a-recording-or-no-such-cook" in client.get(way).text


def test_every_picture_of_the_manual_is_drawn_by_the_script_small_and_shown(client: FlaskClient) -> None:
    text = "".join(page_text(name) for name in page_names())
    assert (
        set(re.findall(r"!\[[^]]+\]\(([^)]+)\)", text)) == set(PICTURES) == {one.name for one in MANUAL.glob("*.svg")}
    )
    page = client.get("/manual/past-cooks").text
    (picture,) = re.findall(r"<img [^>]+>", page)
    for part in ('src="/manual-pictures/power-cut.svg"', 'alt="The course', 'width="860"', 'height="520"'):
        assert part in picture
    for name in PICTURES:
        answer = client.get(f"/manual-pictures/{name}")
        assert answer.status_code == 200 and answer.mimetype == "image/svg+xml"
        assert len(answer.data) < 60_000 and b"<script" not in answer.data
    for other in ("alarms.md", "..%2fapp.py", "none.svg"):
        assert client.get(f"/manual-pictures/{other}").status_code == 404


@pytest.mark.browser
def test_the_pictures_show_what_the_program_draws(tmp_path: Path) -> None:
    draw(tmp_path)
    for name in PICTURES:
        there, drawn = (
            re.findall(r"<text[^>]*>(.*?)</text>", (folder / name).read_text("utf-8")) for folder in (MANUAL, tmp_path)
        )
        assert there == drawn and len(there) > 10
