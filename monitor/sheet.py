"""The batch sheet: TOML text to a Batch, with every mistake named in one sentence."""

import math
import tomllib
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from difflib import get_close_matches

from monitor.errors import MonitorError
from monitor.records import Alkali, Batch, Oil
from monitor.sums.oils import find_oil


class SheetError(MonitorError):
    """The batch sheet is wrong. where: the key or place; why: one clause."""

    exit_status = 2

    def __init__(self, where: str, why: str) -> None:
        self.where = where
        self.why = why
        super().__init__(f"The batch sheet is wrong at {where}: {why}.")


DEFAULT_ASSAY = 0.90
DEFAULT_EXCESS = 0.03


def read_sheet(text: str) -> Batch:
    """The batch that a sheet describes.

    Assay 0.90 and excess 0.03 are taken where the sheet is silent (common practice, no source).
    Raises SheetError for anything that is not understood; unknown keys are refused by name.

    >>> sheet = '[[oil]]\\nname = "rapeseed"\\ngrams = 600\\n[water]\\ngrams = 540'
    >>> read_sheet(sheet).oils[0].saponification_value
    187.5
    >>> read_sheet("titel = 'x'")
    Traceback (most recent call last):
    monitor.sheet.SheetError: The batch sheet is wrong at 'titel': there is no such key; the nearest is 'title'.
    """
    try:
        sheet = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SheetError("its TOML", str(error)) from None
    except RecursionError:
        raise SheetError("its TOML", "it is nested too deeply") from None
    _known_keys(sheet, ("title", "started", "oil", "alkali", "water"), "")
    oils = sheet.get("oil", [])
    if not isinstance(oils, list):
        raise SheetError("'oil'", "each oil is a table headed [[oil]]")
    alkali = _table(sheet, "alkali")
    _known_keys(alkali, ("kind", "assay", "excess"), "alkali.")
    water = _table(sheet, "water")
    _known_keys(water, ("grams",), "water.")
    kind = alkali.get("kind", "KOH")
    if kind != "KOH":
        raise SheetError("'alkali.kind'", f"it is {kind!r}; liquid soap is made with 'KOH'")
    title = sheet.get("title", "Untitled batch")
    if not isinstance(title, str) or len(title) > 200:
        raise SheetError("'title'", "it must be text of at most 200 characters")
    return Batch(
        title=title,
        oils=tuple(_oil(entry, index) for index, entry in enumerate(oils, 1)),
        alkali=Alkali(
            "KOH",
            _number(alkali, "assay", "alkali.", 0.5, 1.0, DEFAULT_ASSAY),
            _number(alkali, "excess", "alkali.", -0.2, 0.5, DEFAULT_EXCESS),
        ),
        water_grams=_number(water, "grams", "water.", 0.0, 100_000.0, 0.0),
        started=_moment(sheet.get("started")),
    )


def _oil(entry: object, index: int) -> Oil:
    where = f"oil {index}: "
    if not isinstance(entry, dict):
        raise SheetError(f"oil {index}", "each oil is a table headed [[oil]]")
    _known_keys(entry, ("name", "grams", "saponification_value"), where)
    name = entry.get("name")
    if not isinstance(name, str):
        raise SheetError(f"'{where}name'", "every oil needs a name")
    grams = _number(entry, "grams", where, 0.1, 100_000.0, None)
    if "saponification_value" in entry:
        value = _number(entry, "saponification_value", where, 50.0, 400.0, None)
    else:
        try:
            value = find_oil(name).saponification_middle
        except ValueError as error:
            raise SheetError(f"'{where}name'", str(error)) from None
    return Oil(name, grams, value)


def _table(sheet: Mapping[str, object], name: str) -> dict[str, object]:
    table = sheet.get(name, {})
    if not isinstance(table, dict):
        raise SheetError(f"'{name}'", f"it must be a table headed [{name}]")
    return table


def _known_keys(table: Mapping[str, object], known: Iterable[str], where: str) -> None:
    for key in table:
        if key not in known:
            near = get_close_matches(key, list(known), 1, 0.0)[0]
            raise SheetError(f"'{where}{key}'", f"there is no such key; the nearest is {near!r}")


def _number(table: Mapping[str, object], key: str, where: str, low: float, high: float, default: float | None) -> float:
    value = table.get(key, default)
    if value is None:
        raise SheetError(f"'{where}{key}'", "it is missing")
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise SheetError(f"'{where}{key}'", f"it is {value!r}; it must be a number")
    if not low <= value <= high:
        raise SheetError(f"'{where}{key}'", f"it is {value:g}; it must be from {low:g} to {high:g}")
    return float(value)


def _moment(value: object) -> float | None:
    if value is None:
        return None
    if not isinstance(value, datetime):
        raise SheetError("'started'", "it must be a date and time such as 2026-03-14T10:20:00+00:00")
    if value.tzinfo is None:
        raise SheetError("'started'", "its offset from UTC is missing, such as +00:00")
    return value.astimezone(UTC).timestamp()
