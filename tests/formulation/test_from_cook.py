"""The sheet's keys for the sums, and the way from a sheet to a charge."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.formulation.batch_sheet import SheetError, read_sheet, sheet_text
from monitor.formulation.from_cook import PhReading, batch_state, charge_inputs, charge_of, last_ph, last_titration
from monitor.formulation.titration import TitrationInputs
from monitor.model import Alkali, Batch, Event, Oil, make_event
from tests.formulation.batches import FLAKES_G

SHEET = """
title = "Brush soap, third try"
lot = "2026-07"
[[oil]]
name = "rapeseed"
grams = 600
saponification_value = 189.2
lot = "R-1183"
[[oil]]
name = "coconut"
grams = 100
[alkali]
assay = 0.90
carbonate = 0.01
naoh_share = 0.1
naoh_assay = 0.97
excess = 0.02
grams = 131.5
lot = "K 55"
[water]
grams = 540
[glycerol]
grams = 60
[cooker]
litres = 3.5
[scale]
grams = 0.1
"""


PLAIN = '[[oil]]\nname = "rapeseed"\ngrams = 600\n[water]\ngrams = 540'


def test_the_new_keys_are_read() -> None:
    batch = read_sheet(SHEET)
    assert (batch.lot, batch.glycerol_grams, batch.cooker_litres, batch.scale_grams) == ("2026-07", 60.0, 3.5, 0.1)
    assert [(oil.lot, oil.certified) for oil in batch.oils] == [("R-1183", True), ("", False)]
    alkali = batch.alkali
    assert (alkali.carbonate, alkali.naoh_share, alkali.naoh_assay) == (0.01, 0.1, 0.97)
    assert (alkali.grams, alkali.naoh_grams, alkali.lot) == (131.5, None, "K 55")


def test_a_silent_sheet_has_the_defaults() -> None:
    batch = read_sheet('[[oil]]\nname = "rapeseed"\ngrams = 600\n[water]\ngrams = 540')
    assert (batch.lot, batch.cooker_litres, batch.scale_grams, batch.alkali.grams) == ("", None, 1.0, None)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[scale]\ngram = 1", "'scale.gram'.*nearest is 'grams'"),
        ("[cooker]\nliters = 1", "'cooker.liters'.*nearest is 'litres'"),
        ("[cooker]\nlitres = 900", "from 0.5 to 200"),
        ("[alkali]\nnaoh_shares = 1", "nearest is 'naoh_share'"),
        ("[alkali]\ncarbonate = 0.5", "from 0 to 0.2"),
        ("[alkali]\nlot = 7", "must be text of at most 60"),
        ("lot = 7", "'lot'.*must be text"),
        ("glycerol = 7", r"\[glycerol\]"),
    ],
)
def test_wrong_new_keys_are_named(text: str, words: str) -> None:
    with pytest.raises(SheetError, match=words):
        read_sheet(text)


def logged(kind: str, at: float, **fields: object) -> Event:
    return make_event(f"{kind}-{at}", kind, at, at, fields)


def test_a_logged_paste_mass_gives_the_water_boiled_off() -> None:
    charge = charge_of(read_sheet(PLAIN))
    total_put_in_g = 600 + FLAKES_G + 540
    events = [logged("boiled off", 1.0, grams=400), logged("checked", 2.0, result="clear", sample_g=8)]
    assert batch_state(charge, events).pot.total_g == pytest.approx(total_put_in_g - 400 - 8)
    now = batch_state(
        charge, [*events, logged("paste weighed", 3.0, grams=1200), logged("water added", 4.0, grams=900)]
    )
    # The weighing sets the earlier guess aside: 1268.75 g less the sample's 8 g less 1200 g.
    assert now.lost_g == pytest.approx(total_put_in_g - 8 - 1200)
    assert now.pot.total_g == pytest.approx(2100) and now.paste_g == 1200.0
    assert now.pot.paste_share == pytest.approx(1200 / 2100)


def test_a_weighing_logged_after_dilution_is_of_the_paste_before_it() -> None:
    charge = charge_of(read_sheet(PLAIN))
    water, paste = logged("water added", 1.0, grams=900), logged("paste weighed", 2.0, grams=1200)
    late, early = batch_state(charge, [water, paste]), batch_state(charge, [paste, water])
    assert late == early
    assert late.pot.total_g == pytest.approx(2100) and late.pot.paste_g == pytest.approx(1200)
    # As it is typed, so it is logged.
    assert batch_state(charge, [water], paste_weighed_g=1200) == late


def test_an_impossible_figure_is_left_out_with_a_caveat() -> None:
    charge = charge_of(read_sheet(PLAIN))
    now = batch_state(charge, [logged("paste weighed", 1.0, grams=5000), logged("boiled off", 2.0, grams=5000)])
    assert now.pot.total_g == pytest.approx(600 + FLAKES_G + 540)
    assert len(now.caveats) == 2 and all("left out" in words for words in now.caveats)


@given(st.lists(st.tuples(st.sampled_from(["paste weighed", "boiled off", "water added"]), st.floats(0, 3000))))
def test_no_soap_appears_or_vanishes_whatever_is_weighed(told: list[tuple[str, float]]) -> None:
    charge = charge_of(read_sheet(PLAIN))
    bare = batch_state(charge, []).pot
    now = batch_state(charge, [logged(kind, float(n), grams=grams) for n, (kind, grams) in enumerate(told)])
    assert now.pot.soap_g == pytest.approx(bare.soap_g)
    assert now.pot.total_g + now.lost_g - now.water_added_g == pytest.approx(bare.total_g)
    assert -1e-9 <= now.pot.paste_g <= now.pot.total_g + 1e-9


def test_a_titration_holds_until_a_neutraliser_is_added() -> None:
    read = logged("titrated", 1.0, acid_ml=2.3, acid_mol_l=0.1, sample_g=10)
    assert last_titration([read]) == TitrationInputs(2.3, 0.1, 10.0)
    assert last_titration([read, logged("neutraliser added", 2.0, reagent="citric acid", grams=1)]) is None


texts = st.text(max_size=40)
batches = st.builds(
    Batch,
    texts,
    st.lists(st.builds(Oil, texts, st.floats(0.1, 1e5), st.floats(50.0, 400.0), st.just(True), texts), max_size=3).map(
        tuple
    ),
    st.builds(
        Alkali,
        st.just("KOH"),
        st.floats(0.5, 1.0),
        st.floats(-0.2, 0.5),
        st.floats(0.0, 0.2),
        st.floats(0.0, 1.0),
        st.floats(0.5, 1.0),
        st.none() | st.floats(0.0, 1e5),
        st.none() | st.floats(0.0, 1e5),
        texts,
    ),
    st.floats(0.0, 1e5),
    st.none() | st.integers(0, 4_000_000_000).map(float),
    st.floats(0.0, 1e5),
    texts,
    st.none() | st.floats(0.5, 200.0),
    st.floats(0.001, 100.0),
)


@given(batches)
def test_a_batch_written_as_a_sheet_is_read_back_the_same(batch: Batch) -> None:
    assert read_sheet(sheet_text(batch)) == batch


def test_a_sheet_written_back_keeps_the_table_s_oils_uncertified() -> None:
    batch = read_sheet(SHEET)
    written = sheet_text(batch)
    assert read_sheet(written) == batch
    assert written.count("saponification_value") == 1


def test_a_sheet_becomes_a_charge_with_what_was_weighed() -> None:
    made = charge_of(read_sheet(SHEET))
    rapeseed, coconut = made.inputs.portions
    assert (rapeseed.saponification, coconut.saponification) == (189.2, 255.0)
    assert rapeseed.saponification_high - rapeseed.saponification_low < 3.0
    assert made.koh_g == 131.5
    # NaOH makes up what the flakes on the scale lack.
    assert math.isclose(made.excess.taken, 0.02)
    assert made.inputs.scale_g == 0.1 and made.inputs.glycerol_g == 60.0


def test_the_last_ph_counts_until_a_neutraliser_goes_in() -> None:
    log: list[tuple[str, dict[str, object]]] = [
        ("ph read", {"ph": 10.9}),
        ("ph read", {"ph": 10.6, "sample_percent": 2.0, "temperature_c": 30.0}),
        ("neutraliser added", {"reagent": "citric acid", "grams": 1.0}),
        ("ph read", {"ph": 10.1}),
    ]
    events = [make_event(str(n), kind, float(n), float(n), fields) for n, (kind, fields) in enumerate(log)]
    assert last_ph(events) == PhReading(10.1, 1.0, 25.0)
    assert last_ph(events[:3]) is None
    assert last_ph(events[:2]) == PhReading(10.6, 2.0, 30.0)


def test_a_sheet_without_oils_is_refused() -> None:
    with pytest.raises(ValueError, match="no oil"):
        charge_inputs(read_sheet('title = "Empty"'))
