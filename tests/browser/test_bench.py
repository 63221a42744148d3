"""The bench and the batch record in a real Chromium, at the sizes of phones."""

import re
import zlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, Route, expect

from monitor.formulation import read_sheet
from monitor.runtime import SystemClock
from monitor.session import set_kitchen_units
from monitor.storage import load
from tests.browser.conftest import Phone, keep_picture, taken_over
from tests.cli.processes import until
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
    "bench/outcome",
    "bench/haze",
    "bench/stock",
)


@pytest.fixture
def maker(tmp_path: Path) -> Iterator[Maker]:
    made = Maker(tmp_path, SystemClock(), hours=2.6)
    yield made
    made.recorder.close()


def worked(page: Page) -> Page:
    """Waits until the form asks for its sum by itself, which it does once Dash has taken over."""
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
        if path.startswith("bench"):
            taken_over(page)
        if path.count("/") == 1 and path.startswith("bench/"):
            page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path
        small = page.evaluate(
            """(least) => [...document.querySelectorAll('button, a, input, summary')]
                .filter((target) => target.offsetParent !== null)
                .map((target) => [target.outerHTML.slice(0, 80), target.getBoundingClientRect()])
                .filter(([, box]) => box.height < least || box.width < least)
                .map(([text, box]) => `${text}: ${box.width} x ${box.height}`)""",
            TARGET_PX,
        )
        assert small == [], path


def test_results_follow_what_is_typed(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/charge", refusals=True))
    koh = page.locator('[data-out="koh"]')
    expect(koh).to_have_text("130 g")
    koh.evaluate("(number) => number.scrollIntoView({ block: 'center' })")
    keep_picture(page, "bench")
    page.get_by_label("To weigh").fill("300")
    expect(koh).to_have_text("65 g")
    page.get_by_label("KOH flakes, I weighed").fill("70")
    expect(page.locator('[data-out="excess"]')).to_have_text("11.3 %")
    care = page.locator(".care", has_text="goggles")
    expect(care.locator("summary")).to_contain_text("Potassium hydroxide burns skin")
    # What the hand weighs stays in sight while somebody types further down.
    page.get_by_label("KOH flakes, I weighed").scroll_into_view_if_needed()
    number = koh.bounding_box()
    assert number and 0 <= number["y"] < 200
    left = page.locator(".span .taken").evaluate("(mark) => mark.style.left")
    page.get_by_label("KOH flakes, I weighed").fill("66")
    expect(page.locator('[data-out="excess"]')).to_have_text("5.0 %")
    assert page.locator(".span .taken").evaluate("(mark) => mark.style.left") != left


def test_a_form_that_nobody_touched_asks_for_nothing_and_is_drawn_once(maker: Maker, phone: Phone) -> None:
    page = phone("/bench/charge")
    asked: list[str] = []
    page.on("request", lambda one: asked.append(one.post_data or "") if "update-component" in one.url else None)
    page.reload()
    taken_over(page)
    page.get_by_label("To weigh").fill("300")
    expect(page.locator('[data-out="koh"]')).to_have_text("65 g")
    # The page itself, and the sum of what was typed.
    assert len(asked) == 2 and "form-asked" in asked[-1]


def field_of(page: Page, label: str) -> Locator:
    return page.locator(".field").filter(has=page.get_by_label(label, exact=True))


def test_a_refusal_stands_at_its_field_and_no_old_number_is_left(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/charge", refusals=True))
    expect(page.locator('[data-out="koh"]')).to_have_text("130 g")
    page.get_by_label("KOH in the flakes").fill("120")
    refusal = field_of(page, "KOH in the flakes").locator(".refusal")
    expect(refusal).to_have_text("KOH in the flakes is 120 %; it must be from 50 to 100 %.")
    expect(page.locator('[data-out="koh"]')).to_have_text("–")
    page.get_by_label("KOH in the flakes").fill("85")
    expect(page.locator('[data-out="koh"]')).to_have_text("137 g")
    expect(refusal).to_be_hidden()


def test_what_is_typed_first_of_all_is_there_after_a_reload(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/charge"))
    page.get_by_label("Excess").fill("5")
    expect(page.locator('[data-out="koh"]')).to_have_text("132 g")
    page.reload()
    taken_over(page)
    expect(page.get_by_label("Excess")).to_have_value("5")


def test_what_was_typed_is_there_after_a_reload_and_by_the_log_when_it_was_logged(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/charge", refusals=True))
    page.get_by_label("Excess").fill("5")
    page.get_by_role("button", name="Another oil").tap()
    page.get_by_label("Oil", exact=True).nth(1).fill("coconut")
    page.get_by_label("To weigh").nth(1).fill("200")
    expect(page.locator('[data-out="oil"]')).to_have_text("800 g")
    page.reload()
    taken_over(page)
    expect(page.get_by_label("To weigh").nth(1)).to_have_value("200")
    expect(page.get_by_label("Excess")).to_have_value("5")
    expect(page.locator('[data-out="oil"]')).to_have_text("800 g")
    page.get_by_text("Certificate and lot").nth(1).tap()
    page.get_by_role("button", name="Take this oil out").tap()
    expect(page.get_by_label("To weigh")).to_have_count(1)
    expect(page.locator('[data-out="oil"]')).to_have_text("600 g")


def test_ounces_are_chosen_once_and_turn_every_weight(maker: Maker, phone: Phone, address: str) -> None:
    page = worked(phone("/bench/charge", refusals=True))
    expect(page.locator('[data-out="koh"]')).to_have_text("130 g")
    page.get_by_role("link", name="Set-up").tap()
    page.get_by_role("link", name="Units").tap()
    expect(page.get_by_role("button", name="Grams")).to_have_attribute("aria-pressed", "true")
    page.get_by_role("button", name="Ounces", exact=True).tap()
    expect(page.get_by_role("button", name="Ounces", exact=True)).to_have_attribute("aria-pressed", "true")
    page.goto(f"{address}/bench/charge")
    expect(page.locator('[data-out="koh"]')).to_have_text("4.57 oz (129.5 g)")
    expect(page.get_by_label("To weigh")).to_have_value("21.1644")
    expect(page.locator('[data-out="water"]')).to_contain_text("US")
    page.reload()
    expect(page.get_by_label("To weigh")).to_have_value("21.1644")
    set_kitchen_units(maker.path.parent, {"mass": "g"})
    page.reload()
    expect(page.get_by_label("To weigh")).to_have_value(re.compile("^600"))


def test_the_sheet_is_written_back(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/charge", refusals=True))
    page.get_by_role("button", name="Another oil").tap()
    row = page.locator(".row").nth(1)
    row.get_by_label("Oil", exact=True).fill("coconut")
    row.get_by_label("To weigh").fill("200")
    expect(page.locator('[data-out="oil"]')).to_have_text("800 g")
    page.get_by_label("I weighed", exact=True).first.fill("602")
    page.get_by_role("button", name="Keep this as the batch sheet").tap()
    expect(page.locator("#form-kept")).to_contain_text("The batch sheet of this cook")
    batch = load(maker.path).sheets[-1][1]
    assert [(oil.name, oil.grams) for oil in batch.oils] == [("rapeseed", 602.0), ("coconut", 200.0)]


def test_the_oils_table_is_searched_as_it_is_typed(maker: Maker, phone: Phone) -> None:
    page = phone("/bench/oils")
    rows = page.locator(".oils li:visible")
    expect(rows).to_have_count(52)
    page.get_by_role("searchbox").fill("(canola)")
    expect(rows).to_have_count(1)
    expect(page.locator("#oils-found")).to_have_text("1 of 52 oils")
    rows.locator("summary").tap()
    expect(rows).to_contain_text("second-hand; check against")


def test_water_keeps_its_way_when_the_batch_is_scaled(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/charge", refusals=True))
    water = page.locator('[data-out="water"]')
    expect(water).to_have_text("540 g")
    page.get_by_role("button", name="times the flakes").tap()
    expect(page.get_by_label("Grams of water to a gram of flakes")).to_have_value(re.compile(r"^4\.16"))
    expect(water).to_have_text("540 g")
    page.locator("summary", has_text="Make more or less").tap()
    page.get_by_label("Oils in all, from now on").fill("1200")
    page.get_by_role("button", name="Scale to this").tap()
    expect(page.get_by_label("To weigh")).to_have_value("1200")
    expect(water).to_have_text("1080 g")
    page.get_by_role("button", name="weight", exact=True).tap()
    expect(page.get_by_label("Water", exact=True)).to_have_value(re.compile(r"^1080"))


def test_a_new_batch_is_begun_from_the_last_and_saved_as_a_file(maker: Maker, phone: Phone, address: str) -> None:
    maker.log("finished", 9360)
    page = worked(phone("/bench/charge", refusals=True))
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
    expect(page.locator("#form-kept")).to_have_text("Logged: paste weighed, 1200.0 g.")
    for there in (page, phone("/bench/neutralise", refusals=True)):
        there.reload()
        expect(there.locator('[data-out="pot"]')).to_have_text("1200.0 g")


def test_water_is_logged_and_taken_back(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/dilute"))
    page.get_by_label("I weighed", exact=True).fill("500")
    expect(page.locator('[data-out="after"]')).to_contain_text("real soap")
    page.get_by_role("button", name="It went in: log it").tap()
    expect(page.locator("#form-kept")).to_have_text("Logged: water added, 500.0 g.")
    expect(page.locator('[data-say="pot"]')).to_contain_text("500.0 g")
    assert load(maker.path).events_of("water added")[-1].fields["grams"] == 500.0
    page.get_by_role("button", name="Take it back").tap()
    expect(page.locator("#form-kept")).to_have_text("Taken back.")
    assert not load(maker.path, SystemClock().now() + 1).events_of("water added")


def test_a_paste_sample_is_titrated_and_logged(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/paste"))
    expect(page.locator('[data-say="expected"] p')).to_have_count(4)
    page.get_by_label("Acid run in").fill("1,2")
    expect(page.locator('[data-out="converted"]')).to_contain_text("% of the oils")
    page.get_by_role("button", name="Log this paste sample").tap()
    expect(page.locator("#form-kept")).to_have_text("Logged: titrated, 1.2 mL.")
    assert load(maker.path).events_of("titrated")[-1].fields == {"acid_ml": 1.2, "acid_mol_l": 0.1, "sample_g": 1.0}
    page.get_by_label("Paste in the flask").fill("900")
    expect(field_of(page, "Paste in the flask").locator(".refusal")).to_contain_text("must be from 0.1 to 200 g")


def test_what_is_typed_while_a_form_is_drawn_anew_stays(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/neutralise", refusals=True))
    page.get_by_label("pH", exact=True).fill("10.5")
    expect(page.locator('[data-out="decision"]')).to_have_text("Neutralise")
    held: list[Route] = []

    def hold(route: Route) -> None:
        if "bench-inputs.children" in (route.request.post_data or ""):
            held.append(route)
        else:
            route.continue_()

    page.route("**/_dash-update-component*", hold)
    page.get_by_role("button", name="the charge").tap()
    until(lambda: page.evaluate("true") and bool(held))
    page.get_by_label("Its temperature").fill("24")
    held[0].continue_()
    expect(page.get_by_role("button", name="the charge")).to_have_attribute("aria-pressed", "true")
    expect(page.get_by_label("Its temperature")).to_have_value("24")


def test_ph_and_neutraliser_are_logged_and_borax_warned_of(maker: Maker, phone: Phone) -> None:
    page = worked(phone("/bench/neutralise", refusals=True))
    page.get_by_label("pH", exact=True).fill("10.5")
    expect(page.locator('[data-out="decision"]')).to_have_text("Neutralise")
    page.get_by_role("button", name="Log this pH").tap()
    expect(page.locator("#form-kept")).to_have_text("Logged: pH 10.5.")
    assert load(maker.path).events_of("ph read")[-1].fields["ph"] == 10.5
    page.locator("summary", has_text="Reagent:").tap()
    page.get_by_role("button", name="borax decahydrate").tap()
    expect(page.locator("#bench-inputs .care")).to_contain_text("toxic for reproduction")
    expect(page.locator('[data-out="next"]')).to_have_count(0)
    page.get_by_role("button", name="I have read this warning").tap()
    expect(page.locator('[data-out="next"]')).to_be_visible()
    # What was open stays open, but a choice folds its list.
    page.locator("summary", has_text="Reagent:").tap()
    page.get_by_role("button", name="citric acid anhydrous").tap()
    page.get_by_role("button", name="the charge").tap()
    page.get_by_label("I weighed, dry").fill("60")
    expect(page.locator(".over")).to_contain_text("overshoot")
    given = page.locator("section").filter(has=page.get_by_role("heading", name="What went in"))
    given.get_by_role("button", name="It went in: log it").tap()
    expect(given.locator(".sends").first).to_contain_text("it must be from 0 to")
    assert not load(maker.path).events_of("neutraliser added")
    page.get_by_label("I weighed, dry").fill("0.9")
    expect(page.locator(".over")).to_have_count(0)
    given.get_by_role("button", name="It went in: log it").tap()
    expect(page.locator("#form-kept")).to_contain_text("citric acid anhydrous added")
    assert load(maker.path).events_of("neutraliser added")[-1].fields["grams"] == 0.9


def test_the_record_prints_on_one_page(maker: Maker, phone: Phone) -> None:
    maker.log("water added", 9200, {"grams": 900})
    maker.log("ph read", 9300, {"ph": 9.7, "sample_percent": 1, "temperature_c": 24})
    page = phone(f"/record/{maker.path.stem}", 1280, 900, dash=False)
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
