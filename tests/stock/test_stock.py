"""The stock: rows and lots, what a batch takes, certificates, costs, and files that outside readers understand."""

import threading
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import frictionless
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.formulation import charge_of, read_sheet
from monitor.model import Event
from monitor.stock import (
    BOUGHT,
    COLUMNS,
    COUNTED,
    DISCARDED,
    OPENED,
    Movement,
    Need,
    Shelf,
    StockError,
    add_movements,
    allocate,
    batch_cost,
    certified_sheet,
    charge_needs,
    cook_needs,
    event_needs,
    give_back,
    import_stock,
    read_stock,
    shelf_from,
    shortages,
    table_text,
    take_for_batch,
    taken_for,
    to_cents,
    with_certificates,
    withdraw,
)

NOW = 1_773_484_800.0
BATCH = read_sheet('title = "Hand soap"\n[[oil]]\nname = "rapeseed"\ngrams = 600\n[water]\ngrams = 400')


def bought(
    name: str, amount: str, price: str | None = None, *, kind: str = "oil", lot: str = "", **more: object
) -> Movement:
    money = None if price is None else Decimal(price)
    one = Movement(
        f"{kind}-{name}-{lot}-{amount}".replace(" ", "-"), NOW, BOUGHT, kind, name, lot, Decimal(amount), money
    )
    return replace(one, currency="" if price is None else "EUR", **more)  # type: ignore[arg-type]


def moved(
    movement: str, name: str, amount: str | None, *, kind: str = "oil", lot: str = "", at: float = NOW
) -> Movement:
    uid = f"{movement}-{name}-{lot}-{at:.0f}"
    return Movement(uid, at, movement, kind, name, lot, None if amount is None else Decimal(amount))


FULL = (
    bought("Canola oil", "1000", "8.00", lot="R1", saponification_value=Decimal("189.2")),
    bought("KOH", "500", "6.50", kind="alkali", lot="K1", assay=Decimal("0.885"), carbonate=Decimal("0.01")),
    bought("bottle", "10", "7.00", kind="bottle", bottle_ml=Decimal(250)),
)


def test_what_is_bought_opened_taken_counted_and_spilt_is_on_the_shelf_or_not() -> None:
    movements = [bought("olive", "1000", "10", lot="a"), moved(OPENED, "olive", None, lot="A", at=NOW + 1.0)]
    movements += [moved(DISCARDED, "olive", "50", lot="a"), moved(COUNTED, "olive", "900.5", lot="a")]
    (lot,) = shelf_from(movements).lots
    assert (lot.left, lot.opened_at, lot.cost_of(Decimal(100))) == (Decimal("900.5"), NOW + 1.0, Decimal(1))


def test_opened_lots_go_first_and_then_old_ones() -> None:
    old = replace(bought("olive", "100", lot="old"), time=NOW)
    new = replace(bought("olive", "100", lot="new"), time=NOW + 60.0)
    shelf = shelf_from([old, new, moved(OPENED, "olive", None, lot="new")])
    (found,) = allocate(shelf, [Need("oil", "olive", Decimal(150))])
    assert [(draw.lot.lot, draw.amount) for draw in found.draws] == [("new", Decimal(100)), ("old", Decimal(50))]
    (short,) = allocate(shelf, [Need("oil", "olive", Decimal(250))])
    assert shortages([short]) == ("Short of olive: 250 g wanted, 200 g on the shelf.",)


def test_two_needs_of_one_thing_share_its_lots() -> None:
    shelf = shelf_from([bought("olive", "100")])
    found = allocate(shelf, [Need("oil", "olive", Decimal(80)), Need("oil", "Olive oil", Decimal(80))])
    assert [one.short for one in found] == [0, 60]


@given(
    st.lists(st.tuples(st.integers(1, 9000), st.integers(0, 99_999)), min_size=1, max_size=6), st.integers(1, 30_000)
)
def test_costs_are_exact_by_the_arithmetic_of_fractions(lots: list[tuple[int, int]], wanted: int) -> None:
    # Outside check: fractions.Fraction of the standard library, which never rounds.
    movements = [bought("olive", f"{grams}", f"{cents / 100:.2f}", lot=f"{n}") for n, (grams, cents) in enumerate(lots)]
    shelf = shelf_from(movements)
    found = allocate(shelf, [Need("oil", "olive", Decimal(wanted))])
    left, exact = wanted, Fraction(0)
    for grams, cents in lots:
        exact += Fraction(cents, 100) * Fraction(min(left, grams), grams)
        left -= min(left, grams)
    exact += Fraction(lots[-1][1], 100) * Fraction(left, lots[-1][0])
    cost = batch_cost(shelf, found, 7)
    assert abs(Fraction(cost.total) - exact) <= Fraction(1, 200)
    assert cost.per_bottle is not None and abs(Fraction(cost.per_bottle) - exact / 7) <= Fraction(1, 200)


def test_money_is_rounded_as_tills_round() -> None:
    assert [f"{to_cents(Decimal(text))}" for text in ("0.125", "0.135", "2")] == ["0.13", "0.14", "2.00"]


def test_a_batch_takes_over_lots_and_certificates_and_the_alkali_follows() -> None:
    batch, sentences = with_certificates(BATCH, shelf_from(FULL))
    assert (batch.oils[0].lot, batch.oils[0].saponification_value, batch.oils[0].certified) == ("R1", 189.2, True)
    assert (batch.alkali.lot, batch.alkali.assay, batch.alkali.carbonate) == ("K1", 0.885, 0.01)
    assert sentences == (
        "Rapeseed of lot R1: saponification value 189.2 of its certificate, was 188.6.",
        "Potassium hydroxide of lot K1: assay 88.5% of its certificate, was 90.0%.",
    )
    # By hand: 600 g at 189.2 mg/g, 3 % excess, flakes of 88.5 %.
    assert charge_of(batch).koh_g == pytest.approx(600 * 0.1892 * 1.03 / 0.885)
    assert with_certificates(batch, shelf_from(FULL)) == (batch, ())


def test_an_oil_from_two_lots_takes_the_mean_of_their_values_by_mass() -> None:
    lots = [
        bought("rapeseed", "200", lot="a", saponification_value=Decimal(186)),
        bought("rapeseed", "600", lot="b", saponification_value=Decimal(192)),
    ]
    batch, _ = with_certificates(BATCH, shelf_from(lots))
    assert (batch.oils[0].saponification_value, batch.oils[0].lot) == (190.0, "a + b")
    unknown, sentences = with_certificates(BATCH, shelf_from([lots[0], bought("rapeseed", "600", lot="c")]))
    assert (unknown.oils[0].saponification_value, unknown.oils[0].certified, sentences) == (188.6, False, ())


def test_the_cost_of_a_batch_says_what_is_estimated_and_what_has_no_price() -> None:
    shelf = shelf_from([*FULL[:2], bought("castor", "10")])
    needs = [Need("oil", "rapeseed", Decimal(1500)), Need("oil", "castor", Decimal(5))]
    cost = batch_cost(shelf, allocate(shelf, needs))
    assert (cost.total, cost.per_bottle) == (Decimal("12.00"), None)
    assert (cost.estimated, cost.unpriced) == (("rapeseed",), ("castor",))


def test_the_needs_of_a_batch_are_its_charge_its_bottles_and_what_was_logged() -> None:
    needs = charge_needs(charge_of(BATCH), bottles=(8, 250.0))
    assert [(need.kind, need.name, need.amount) for need in needs] == [
        ("oil", "rapeseed", Decimal("600.0")),
        ("alkali", "potassium hydroxide", Decimal("129.5")),
        ("other", "distilled water", Decimal("400.0")),
        ("bottle", "bottle", Decimal(8)),
    ]
    log = [
        Event("a", "neutraliser added", 0.0, 0.0, {"reagent": "citric acid", "grams": 12.0}),
        Event("b", "bottled", 0.0, 0.0, {"bottles": 9.0, "bottle_ml": 250.0}),
        Event("c", "stirred", 0.0, 0.0),
    ]
    assert [(need.kind, need.amount) for need in event_needs(log)] == [("reagent", Decimal(12)), ("bottle", Decimal(9))]


def test_water_counts_only_where_it_is_kept() -> None:
    needs = charge_needs(charge_of(BATCH))
    assert [one.need.name for one in allocate(Shelf(), needs)] == ["rapeseed", "potassium hydroxide"]
    kept = shelf_from([bought("Distilled  water", "5000", "2.50", kind="other")])
    assert allocate(kept, needs)[-1].draws[0].cost == Decimal("0.2")


def test_a_batch_takes_once_and_gives_back(tmp_path: Path) -> None:
    add_movements(tmp_path, FULL)
    needs = charge_needs(charge_of(BATCH), bottles=(8, 250.0))
    take_for_batch(tmp_path, needs, "Hand soap", now=NOW)
    assert [lot.left for lot in read_stock(tmp_path).shelf.lots] == [400, Decimal("370.5"), 2]
    with pytest.raises(StockError, match="hand soap has taken from the shelf already"):
        take_for_batch(tmp_path, needs, "hand soap", now=NOW)
    give_back(tmp_path, "Hand soap", now=NOW)
    assert [lot.left for lot in read_stock(tmp_path).shelf.lots] == [1000, 500, 10]
    assert taken_for(read_stock(tmp_path), "Hand soap") == []
    with pytest.raises(StockError, match="has taken nothing"):
        give_back(tmp_path, "Hand soap", now=NOW)


def test_a_second_try_of_the_same_entry_takes_nothing_more_and_answers_the_same(tmp_path: Path) -> None:
    add_movements(tmp_path, FULL)
    needs = [Need("oil", "rapeseed", Decimal(900))]
    first = take_for_batch(tmp_path, needs, "Soap", now=NOW, uid="7f0c9a52-1f7e")
    assert take_for_batch(tmp_path, needs, "Soap", now=NOW, uid="7f0c9a52-1f7e") == first
    assert read_stock(tmp_path).shelf.lots[0].left == 100


def test_what_is_short_takes_nothing_unless_it_is_asked_partly(tmp_path: Path) -> None:
    add_movements(tmp_path, FULL)
    needs = [Need("oil", "rapeseed", Decimal(1200)), Need("oil", "castor", Decimal(5))]
    with pytest.raises(
        StockError, match=r"short of rapeseed: 1200 g wanted, 1000 g on the shelf; short of castor: 5 g"
    ):
        take_for_batch(tmp_path, needs, "Soap", now=NOW)
    assert read_stock(tmp_path).shelf.lots[0].left == 1000
    take_for_batch(tmp_path, needs, "Soap", now=NOW, partly=True)
    assert read_stock(tmp_path).shelf.lots[0].left == 0


def test_an_empty_shelf_is_said_and_no_file_is_made(tmp_path: Path) -> None:
    with pytest.raises(StockError, match="the shelf is empty"):
        take_for_batch(tmp_path, [Need("oil", "olive", Decimal(1))], "Soap", now=NOW)
    assert not (tmp_path / "stock.csv").exists()


def test_prices_in_two_currencies_are_refused_and_nothing_is_lost(tmp_path: Path) -> None:
    add_movements(tmp_path, FULL)
    before = (tmp_path / "stock.csv").read_bytes()
    with pytest.raises(StockError, match="a price is in USD, and this stock counts in EUR"):
        add_movements(tmp_path, [bought("castor", "5"), replace(bought("olive", "5", "3"), currency="USD")])
    assert (tmp_path / "stock.csv").read_bytes() == before


def test_four_writers_at_once_lose_nothing(tmp_path: Path) -> None:
    def write(writer: int) -> None:
        for n in range(10):
            add_movements(tmp_path, [bought("olive", f"{n + 1}", lot=f"{writer}-{n}")])

    threads = [threading.Thread(target=write, args=(n,)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(read_stock(tmp_path).movements) == 40 and read_stock(tmp_path).unread == ()


def test_outside_readers_understand_the_file(tmp_path: Path) -> None:
    # pandas and frictionless read CSV as RFC 4180 has it.
    notes = (replace(bought("olive", "5.5", "3.10", lot="a"), id="five", note='said "good", twice'),)
    add_movements(tmp_path, [*FULL, *notes])
    frame = pd.read_csv(tmp_path / "stock.csv", dtype={"lot": "str"})
    assert tuple(frame.columns) == COLUMNS
    assert frame["amount"].tolist() == [1000.0, 500.0, 10.0, 5.5] and frame["note"].iloc[3] == 'said "good", twice'
    text = (tmp_path / "stock.csv").read_text(encoding="utf-8")
    assert frictionless.Resource(text.encode(), format="csv").validate().valid


def test_an_export_is_imported_once_and_a_table_of_a_person_gets_its_ids(tmp_path: Path) -> None:
    assert len(import_stock(tmp_path, table_text(FULL), now=NOW)) == 3
    assert import_stock(tmp_path, table_text(FULL), now=NOW) == ()
    assert read_stock(tmp_path).movements == FULL
    own = "movement,kind,name,amount,price,currency\nbought,oil,olive,1000,9.90,EUR\n"
    (new,) = import_stock(tmp_path, own, now=NOW)
    assert new.time == NOW and new.id


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "it has no column 'movement'"),
        ("movement,kind,name,prize\n", "there is no column 'prize'; the nearest is 'price'"),
        ("movement,kind,name\n", "there is no movement in that file"),
        ("movement,kind,name,amount\nbougt,oil,olive,1\n", "line 2: the movement is 'bougt'; the nearest is 'bought'"),
        ("movement,kind,name,amount\nbought,oil,olive,much\n", "line 2: the amount is 'much'"),
        ("movement,kind,name,amount\nbought,oil,olive,0\n", "line 2: 0 g of olive is nothing to be bought"),
        ("movement,kind,name,amount,bottle_ml\nbought,bottle,b,0,250\n", "0 pieces of bottles are nothing"),
        ("movement,kind,name,amount,bottle_ml\nbought,bottle,b,3,0\n", "the bottle's size in mL is 0"),
        ("movement,kind,name,amount,bottle_ml\nbought,bottle,b,1.5,250\n", "1.5 bottles are no whole number"),
        ("movement,kind,name,amount\nbought,bottle,b,3\n", "a bottle needs its size"),
        ("movement,kind,name,amount,price\nbought,oil,olive,1,3\n", "it must be three capital letters, such as EUR"),
        ("movement,kind,name,amount\nbought,alkali,lime,1\n", "it must be KOH or NaOH"),
        ("movement,kind,name,amount,unit\nbought,oil,olive,1,kg\n", "the unit is 'kg'; oil is counted in g"),
        ("movement,kind,name,amount,time\nbought,oil,olive,1,soon\n", "the time is 'soon'"),
        ("movement,kind,name,amount,assay\nbought,alkali,KOH,1,90\n", "the assay is 90; it must be from 0.5 to 1"),
        ("movement,kind,name,amount\nbought,oil,,1\n", "the thing has no name"),
    ],
)
def test_a_table_that_cannot_be_is_refused_whole(tmp_path: Path, text: str, why: str) -> None:
    with pytest.raises(StockError, match=why.replace("(", r"\(")):
        import_stock(tmp_path, text, now=NOW)
    assert not (tmp_path / "stock.csv").exists()


def test_a_line_that_cannot_be_read_is_told_and_kept(tmp_path: Path) -> None:
    add_movements(tmp_path, FULL)
    path = tmp_path / "stock.csv"
    path.write_text(path.read_text(encoding="utf-8") + "torn,2026-0", encoding="utf-8")
    assert len(read_stock(tmp_path).movements) == 3 and len(read_stock(tmp_path).unread) == 1
    add_movements(tmp_path, [bought("castor", "5")])
    assert len(read_stock(tmp_path).movements) == 4 and "torn,2026-0\n" in path.read_text(encoding="utf-8")


@given(st.text(max_size=400))
def test_no_text_breaks_the_reader(text: str) -> None:
    head = ",".join(COLUMNS)
    try:
        import_stock(Path("/nonexistent"), f"{head}\n{text}", now=NOW)
    except StockError:
        return
    raise AssertionError("there is no such folder")


def test_a_mistaken_entry_is_taken_back_once_and_what_a_batch_took_is_given_back_instead(tmp_path: Path) -> None:
    add_movements(tmp_path, [*FULL, bought("Canola oil", "700", "9", lot="R1")])
    mistake = read_stock(tmp_path).latest(1)[0]
    assert withdraw(tmp_path, mistake.id, now=NOW) == withdraw(tmp_path, mistake.id, now=NOW + 1.0) == mistake
    facts = read_stock(tmp_path)
    assert (facts.shelf.lots[0].left, facts.shelf.lots[0].price, len(facts.movements)) == (
        Decimal(1000),
        Decimal("8.00"),
        5,
    )
    assert [one.id for one in facts.latest(9)] == [one.id for one in reversed(FULL)]
    # Another machine that reads the rows thinks the same of them.
    assert shelf_from(facts.movements) == facts.shelf
    with pytest.raises(StockError, match="no such entry"):
        withdraw(tmp_path, f"back-{mistake.id}", now=NOW)
    take_for_batch(tmp_path, charge_needs(charge_of(BATCH)), "Batch", now=NOW)
    with pytest.raises(StockError, match="Batch took that; give it back instead"):
        withdraw(tmp_path, read_stock(tmp_path).movements[-1].id, now=NOW)


def test_a_cooks_sheet_takes_certificates_and_keeps_the_alkali_that_is_in() -> None:
    shelf = shelf_from(FULL)
    planned, told = certified_sheet(BATCH, [], shelf)
    assert (planned.alkali.grams, len(told)) == (None, 2)
    weighed = Event("weighed-1", "weighed", NOW, NOW, {"what": "potassium hydroxide", "grams": 140.0})
    assert certified_sheet(BATCH, [weighed], shelf)[0].alkali.grams == 140.0
    under_way, _ = certified_sheet(BATCH, [Event("lye-in-1", "lye in", NOW, NOW)], shelf)
    assert under_way.alkali.grams == pytest.approx(charge_of(BATCH).koh_g, abs=0.05)
    assert (under_way.alkali.assay, under_way.oils[0].lot) == (0.885, "R1")
    # The same flakes of a lower assay: less alkali in excess than the sheet wished for.
    assert charge_of(under_way).excess.taken < charge_of(BATCH).excess.taken


def test_the_bottles_that_were_logged_go_before_those_that_are_thought_of() -> None:
    filled = Event("bottled-1", "bottled", NOW, NOW, {"bottles": 8.0, "bottle_ml": 250.0})
    assert cook_needs(BATCH, [filled], (20, 250.0))[1] == 8
    needs, count = cook_needs(BATCH, [], (20, 250.0))
    assert (count, needs[-1].amount) == (20, Decimal(20))


def test_a_batch_that_took_is_counted_as_if_it_still_were_to(tmp_path: Path) -> None:
    add_movements(tmp_path, FULL)
    needs = charge_needs(charge_of(BATCH))
    took = take_for_batch(tmp_path, needs, "Batch", now=NOW)
    assert allocate(read_stock(tmp_path).shelf_without("batch"), needs) == took
