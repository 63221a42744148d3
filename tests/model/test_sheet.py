"""The batch sheet and the events: what is wrong is named, with the nearest right word."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.formulation import SheetError, read_sheet
from monitor.model.event_kinds import LOGGER_EVENTS, PERSON_EVENTS
from monitor.model.records import make_event

EXAMPLE = """
title = "Brush soap, second try"
started = 2026-03-14T10:20:00+00:00
[[oil]]
name = "rapeseed"
grams = 600
[[oil]]
name = "a stranger's oil"
saponification_value = 189
grams = 50
[alkali]
kind = "KOH"
assay = 0.90
excess = 0.03
[water]
grams = 540
"""


def test_the_example_sheet_is_parsed() -> None:
    batch = read_sheet(EXAMPLE)
    assert [oil.saponification_value for oil in batch.oils] == [188.6, 189.0]
    assert (batch.alkali.assay, batch.alkali.excess, batch.water_grams) == (0.9, 0.03, 540.0)
    assert batch.started == 1773483600.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("titel = 'x'", "'titel'.*nearest is 'title'"),
        (
            "[[oil]]\nname = 'rapeseed'\ngrams = 600\nsaponification = 1",
            "'oil 1: saponification'.*saponification_value",
        ),
        ("[[oil]]\nname = 'rapseed'\ngrams = 600", "nearest: rapeseed"),
        ("[[oil]]\nname = 'rapeseed'", "grams'.*missing"),
        ("[[oil]]\nname = 'rapeseed'\ngrams = -1", "from 0.1 to 100000"),
        ("[[oil]]\nname = 'rapeseed'\ngrams = nan", "must be a number"),
        ("[alkali]\nassay = 1.2", "alkali.assay'.*from 0.5 to 1"),
        ("[alkali]\nkind = 'NaOH'", "liquid soap is made with 'KOH'"),
        ("[alkali]\nasay = 0.9", "nearest is 'assay'"),
        ("started = 2026-03-14T10:20:00", "offset from UTC"),
        ("started = 'now'", "date and time"),
        ("oil = 3", r"\[\[oil\]\]"),
        ("water = 540", r"\[water\]"),
        ("x = [", "TOML"),
        # Found by tests.bench.hostile_input.
        (f"[water]\ngrams = {'9' * 400}", "beyond any measure; it must be from 0 to"),
        (f"[water]\ngrams = {'9' * 5000}", "number of too many digits"),
        ("started = 0001-01-01T00:00:00+23:59", "years 1 to 9999"),
    ],
)
def test_an_invalid_sheet_is_refused_with_the_wrong_field_named(text: str, words: str) -> None:
    with pytest.raises(SheetError, match=words):
        read_sheet(text)


@given(st.text())
def test_any_text_gives_a_batch_or_a_sheet_error(text: str) -> None:
    try:
        read_sheet(text)
    except SheetError as error:
        assert str(error)


def test_every_event_kind_is_accepted() -> None:
    named = "lye in, thick trace, lid on, lid off, heat, stirred, checked, ph read, water added, neutraliser added, "
    named += "added, heat off, finished, note"
    ours = "oils melted, lye cooled, looked, weighed, paste weighed, boiled off, titrated, bottled, jar neutralised, jar thickened, costs set, "
    ours += "settled, labelled, timer set, outcome, keeping"
    assert {*named.split(", "), *ours.split(", ")} == set(PERSON_EVENTS)
    assert not set(PERSON_EVENTS) & set(LOGGER_EVENTS)


@pytest.mark.parametrize(
    ("kind", "fields", "words"),
    [
        ("stired", {}, "nearest is 'stirred'"),
        ("checked", {}, "lacks its field 'result'"),
        ("checked", {"result": "murky"}, "one of clear, nearly clear, hazy, cloudy"),
        ("checked", {"result": "clear", "grams": 3}, "allowed: result, sample_g, water_g"),
        ("ph read", {"ph": 41}, "from -2 to 16"),
        ("ph read", {"ph": float("nan")}, "must be a number"),
        ("water added", {"grams": True}, "must be a number"),
        ("note", {"text": "x" * 2001}, "at most 2000"),
        ("bad line", {"reason": "x", "bytes": "y"}, "not a known kind"),
    ],
)
def test_an_invalid_event_is_refused_with_the_wrong_field_named(
    kind: str, fields: dict[str, object], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        make_event("a", kind, 0.0, 0.0, fields)
