"""The bench and the batch record in a real Chromium, at the sizes of phones."""

import re
import zlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, expect

from monitor.formulation import read_sheet
from monitor.runtime import SystemClock
from monitor.storage import load
from tests.browser.conftest import KEY, ZONE, Phone, keep_picture
from tests.dashboard.seeded import Maker

pytestmark = pytest.mark.browser

TARGET_PX = 56
PAGES = (
    "bench",
    "bench/charge",
    "bench/oils",
    "bench/sample",
    "bench/paste",
    "bench/dilute",
    "bench/neutralise",
    "bench/jar",
    "bench/thicken",
    "bench/bottle",
    "bench/label",
)


@pytest.fixture
def maker(tmp_path: Path) -> Iterator[Maker]:
    made = Maker(tmp_path, SystemClock(), hours=2.6)
    yield made
    made.recorder.close()


@pytest.fixture
def phone(browser: Browser, address: str) -> Iterator[Phone]:
    """Opens a paired phone at a page of the bench, which Dash does not take over.

    A refusal is a status of 400, which the browser tells its console; any other complaint fails the test.
    """
    contexts: list[BrowserContext] = []
    complaints: list[str] = []

    def heard(message: ConsoleMessage) -> None:
        if message.type == "error" and "status of 400" not in message.text:
            complaints.append(message.text)

    def opened(path: str, width: int = 390, height: int = 844, scheme: str = "light") -> Page:
        context = browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme="dark" if scheme == "dark" else "light",
            timezone_id=ZONE,
            has_touch=True,
        )
        context.set_default_timeout(10_000)
        contexts.append(context)
        page = context.new_page()
        page.on("console", heard)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.goto(f"{address}{path}?key={KEY}")
        return page

    yield opened
    for context in contexts:
        context.close()
    assert complaints == []


def worked(page: Page) -> Page:
    page.locator("[data-out]").filter(has_text=re.compile(r"\d")).first.wait_for(state="attached")
    return page


def pdf_pages(document: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", document))


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("width", "height"), [(390, 844), (360, 740)])
def test_every_page_fits_and_its_targets_are_big(
    maker: Maker, phone: Phone, address: str, width: int, height: int, scheme: str
) -> None:
    page = phone("/bench", width, height, scheme)
    for path in (*PAGES, f"record/{maker.path.stem}"):
        page.goto(f"{address}/{path}")
        if path.count("/") == 1 and path.startswith("bench/"):
            if path != "bench/oils":
                worked(page)
            page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path
        small = page.evaluate(
            """(least) => [...document.querySelectorAll('button, a, input, select, summary')]
                .filter((target) => target.offsetParent !== null)
                .map((target) => [target.outerHTML.slice(0, 80), target.getBoundingClientRect()])
                .filter(([, box]) => box.height < least || box.width < least)
                .map(([text, box]) => `${text}: ${box.width} x ${box.height}`)""",
            TARGET_PX,
        )
        assert small == [], path


def test_results_follow_what_is_typed(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/charge"))
    koh = page.locator('[data-out="koh"]')
    expect(koh).to_have_text("129.5 g")
    koh.evaluate("(number) => number.scrollIntoView({ block: 'center' })")
    keep_picture(page, "bench")
    page.get_by_label("To weigh").fill("300")
    expect(koh).to_have_text("64.8 g")
    page.get_by_label("I weighed").nth(1).fill("70")
    expect(page.locator('[data-out="excess"]')).to_have_text("11.3 %")
    expect(page.locator('[data-care="koh_g"]')).to_contain_text("goggles")
    # The caution stands right under the number.
    number, care = koh.bounding_box(), page.locator('[data-care="koh_g"]').bounding_box()
    assert number and care and 0 <= care["y"] - number["y"] - number["height"] < 24
    left = page.locator("#span .taken").evaluate("(mark) => mark.style.left")
    page.get_by_label("I weighed").nth(1).fill("66")
    expect(page.locator('[data-out="excess"]')).to_have_text("5.0 %")
    assert page.locator("#span .taken").evaluate("(mark) => mark.style.left") != left


def test_a_refusal_stands_at_its_field_and_no_old_number_is_left(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/charge"))
    expect(page.locator('[data-out="koh"]')).to_have_text("129.5 g")
    with page.expect_response(re.compile("/bench/work")):
        page.get_by_label("KOH in the flakes").first.fill("120")
    expect(page.locator('[data-refusal="assay"]')).to_have_text(
        "KOH in the flakes is 120 %; it must be from 50 to 100 %."
    )
    expect(page.locator('[data-out="koh"]')).to_have_text("–")
    page.get_by_label("KOH in the flakes").first.fill("85")
    expect(page.locator('[data-out="koh"]')).to_have_text("137.1 g")
    expect(page.locator('[data-refusal="assay"]')).to_be_hidden()


def test_ounces_turn_every_weight_and_are_remembered(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/charge"))
    expect(page.locator('[data-out="koh"]')).to_have_text("129.5 g")
    page.get_by_label("ounces").check()
    expect(page.locator('[data-out="koh"]')).to_have_text("4.57 oz (129.5 g)")
    expect(page.get_by_label("To weigh")).to_have_value("21.1644")
    expect(page.locator('[data-out="water"]')).to_contain_text("US")
    page.reload()
    expect(page.get_by_label("To weigh")).to_have_value("21.1644")
    page.get_by_label("grams", exact=True).first.check()
    expect(page.get_by_label("To weigh")).to_have_value(re.compile("^600"))


def test_the_sheet_is_written_back(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/charge"))
    page.get_by_role("button", name="Another oil").tap()
    row = page.locator('[data-row="oils"]').nth(1)
    row.get_by_label("Oil").fill("coconut")
    row.get_by_label("To weigh").fill("200")
    expect(page.locator('[data-out="oil"]')).to_have_text("800.0 g")
    page.get_by_label("I weighed").first.fill("602")
    page.get_by_role("button", name="Keep this as the batch sheet").tap()
    expect(page.locator("#slate-words")).to_contain_text("The batch sheet of this cook")
    batch = load(maker.path).sheets[-1][1]
    assert [(oil.name, oil.grams) for oil in batch.oils] == [("rapeseed", 602.0), ("coconut", 200.0)]


def test_the_oils_table_is_searched_as_it_is_typed(maker: Maker, phone: Phone) -> None:
    page = phone("/bench/oils")
    rows = page.locator(".oils li:visible")
    expect(rows).to_have_count(52)
    page.get_by_role("searchbox").fill("canola")
    # The plain one and the high-oleic one.
    expect(rows).to_have_count(2)
    page.get_by_role("searchbox").fill("(canola)")
    expect(rows).to_have_count(1)
    expect(page.locator("#found")).to_have_text("1 of 52 oils")
    rows.locator("summary").tap()
    expect(rows).to_contain_text("second-hand; check against")


def test_water_keeps_its_way_when_the_batch_is_scaled(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/charge"))
    water = page.locator('[data-out="water"]')
    expect(water).to_have_text("540.0 g")
    page.get_by_label("times the flakes").check()
    expect(page.locator("input[name=water]")).to_have_value(re.compile(r"^4\.16"))
    expect(water).to_have_text("540.0 g")
    page.locator("summary", has_text="Make more or less").tap()
    page.get_by_label("Oils in all, from now on").fill("1200")
    page.get_by_role("button", name="Scale to this").tap()
    expect(page.get_by_label("To weigh")).to_have_value("1200")
    expect(water).to_have_text("1080.0 g")
    page.get_by_label("weight", exact=True).check()
    expect(page.locator("input[name=water]")).to_have_value(re.compile(r"^1080"))


def test_a_new_batch_is_begun_from_the_last_and_saved_as_a_file(maker: Maker, phone: Phone, address: str) -> None:
    maker.log("finished", 9360)
    page = worked(phone("/bench/charge"))
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save the sheet as a file").tap()
    assert saved.value.suggested_filename == "batch.toml"
    batch = read_sheet(Path(saved.value.path()).read_text(encoding="utf-8"))
    assert [(oil.name, oil.grams) for oil in batch.oils] == [("rapeseed", 600.0)]
    page.get_by_label("I weighed").first.fill("602")
    page.get_by_role("button", name="Start a cook with this sheet").tap()
    page.wait_for_url(re.compile(r"/bench\?cook="))
    begun = load(maker.path.with_name(page.url.partition("cook=")[2] + ".cook"))
    assert begun.batch is not None and begun.batch.oils[0].grams == 602.0
    assert load(maker.path).sheets[-1][1].oils[0].grams == 600.0


def test_a_weighed_paste_is_there_after_a_reload_and_on_another_phone(maker: Maker, phone: Phone, address: str) -> None:
    page = worked(phone("/bench/dilute"))
    page.get_by_label("Undiluted paste, I weighed").fill("1200")
    expect(page.locator('[data-out="pot"]')).to_have_text("1200.0 g")
    page.get_by_role("button", name="Log this weight").tap()
    expect(page.locator("#slate-words")).to_have_text("Logged: paste weighed, 1200.0 g.")
    for there in (page, phone("/bench/neutralise")):
        there.reload()
        expect(there.locator('[data-out="pot"]')).to_have_text("1200.0 g")


def test_water_is_logged_and_taken_back(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/dilute"))
    page.get_by_label("I weighed").last.fill("500")
    expect(page.locator('[data-out="after"]')).to_contain_text("real soap")
    page.get_by_role("button", name="It went in: log it").tap()
    expect(page.locator("#slate-words")).to_have_text("Logged: water added, 500.0 g.")
    expect(page.locator('[data-say="pot"]')).to_contain_text("500.0 g")
    assert load(maker.path).events_of("water added")[-1].fields["grams"] == 500.0
    page.get_by_role("button", name="Take it back").tap()
    expect(page.locator("#slate-words")).to_have_text("Taken back.")
    assert not load(maker.path, SystemClock().now() + 1).events_of("water added")


def test_a_paste_sample_is_titrated_and_logged(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/paste"))
    expect(page.locator('[data-say="expected"] p')).to_have_count(4)
    page.fill('[name="acid_ml"]', "1,2")
    expect(page.locator('[data-out="converted"]')).to_contain_text("% of the oils")
    page.click('[data-keep="paste sample"]')
    expect(page.locator("#slate-words")).to_have_text("Logged: titrated, 1.2 mL.")
    assert load(maker.path).events_of("titrated")[-1].fields == {"acid_ml": 1.2, "acid_mol_l": 0.1, "sample_g": 1.0}
    page.fill('[name="titrated_g"]', "900")
    expect(page.locator('[data-refusal="titrated_g"]')).to_contain_text("must be from 0.1 to 200 g")


def test_ph_and_neutraliser_are_logged_and_borax_warned_of(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/neutralise"))
    page.get_by_label("pH", exact=True).fill("10.5")
    expect(page.locator('[data-out="decision"]')).to_have_text("Neutralise")
    page.get_by_role("button", name="Log this pH").tap()
    expect(page.locator("#slate-words")).to_have_text("Logged: pH 10.5.")
    assert load(maker.path).events_of("ph read")[-1].fields["ph"] == 10.5
    page.locator("select[name=reagent]").select_option("borax decahydrate")
    expect(page.locator('[data-say="warning"]')).to_contain_text("toxic for reproduction")
    expect(page.locator('[data-out="next"]')).to_be_hidden()
    page.get_by_label("I have read this warning").check()
    expect(page.locator('[data-out="next"]')).to_be_visible()
    page.locator("select[name=reagent]").select_option("citric acid anhydrous")
    page.get_by_label("the charge").check()
    page.get_by_label("I weighed, dry").fill("60")
    expect(page.locator('[data-say="given"]')).to_contain_text("overshoot")
    page.get_by_role("button", name="It went in: log it").tap()
    expect(page.locator('[data-refusal="given"]')).to_contain_text("it must be from 0 to")
    assert not load(maker.path).events_of("neutraliser added")
    page.get_by_label("I weighed, dry").fill("0.9")
    expect(page.locator('[data-say="given"]')).to_be_empty()
    page.get_by_role("button", name="It went in: log it").tap()
    expect(page.locator("#slate-words")).to_contain_text("citric acid anhydrous added")
    assert load(maker.path).events_of("neutraliser added")[-1].fields["grams"] == 0.9


def test_the_record_prints_on_one_page(maker: Maker, phone: Phone) -> None:
    maker.log("water added", 9200, {"grams": 900})
    maker.log("ph read", 9300, {"ph": 9.7, "sample_percent": 1, "temperature_c": 24})
    page = phone(f"/record/{maker.path.stem}", 1280, 900)
    for words in ("Raw materials", "Operations", "In-process controls", "Deviations", "Yield", "Review and release"):
        expect(page.get_by_role("heading", name=words)).to_be_visible()
    expect(page.locator("[data-minute]").first).to_have_text(re.compile(r"\d{4}, \d\d:\d\d"))
    course = page.get_by_alt_text("Course of the cook")
    # The picture is there, in its own size, and no script made it.
    assert course.evaluate("picture => picture.complete && picture.naturalWidth") == 720
    document = page.pdf(prefer_css_page_size=True)
    assert document.startswith(b"%PDF") and pdf_pages(document) == 1
    # Drawn and written: its streams hold both lines and glyphs.
    streams = [
        zlib.decompress(each) for each in re.findall(rb"FlateDecode[^>]*>>\s*stream\r?\n(.*?)endstream", document, re.S)
    ]
    drawn = b"".join(streams)
    assert drawn.count(b"Tj") + drawn.count(b"TJ") > 50 and drawn.count(b" l\n") > 100
    page.emulate_media(media="print")
    expect(page.get_by_role("button", name="Print")).to_be_hidden()
    expect(page.locator("body")).to_contain_text("rapeseed")


def test_the_label_prints_alone(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/label"))
    page.get_by_label("Made", exact=True).fill("May 2026")
    expect(page.locator('[data-out="label_made"]')).to_have_text("Made May 2026")
    page.emulate_media(media="print")
    expect(page.locator('[data-out="label_common"]')).to_be_visible()
    expect(page.get_by_label("Contents")).to_be_hidden()
