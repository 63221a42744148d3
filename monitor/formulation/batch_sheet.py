"""The batch sheet: TOML text to a Batch, with every mistake named in one sentence."""

import json
import math
import tomllib
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from difflib import get_close_matches
from types import MappingProxyType

from monitor.chemistry import find_oil
from monitor.model import Alkali, Batch, Oil
from monitor.runtime import MonitorError


class SheetError(MonitorError):
    """The batch sheet is wrong. where: the key or place; why: one clause."""

    exit_status = 2

    def __init__(self, where: str, why: str) -> None:
        self.where = where
        self.why = why
        super().__init__(f"The batch sheet is wrong at {where}: {why}.")


DEFAULT_ASSAY = 0.90
DEFAULT_EXCESS = 0.03
DEFAULT_NAOH_ASSAY = 0.98
DEFAULT_SCALE_G = 1.0

ALKALI_KEYS = ("kind", "assay", "excess", "carbonate", "naoh_share", "naoh_assay", "grams", "naoh_grams", "lot")
# The tables of a sheet in the order in which their keys are checked, and the keys that each may hold.
TABLE_KEYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "alkali": ALKALI_KEYS,
        "water": ("grams",),
        "glycerol": ("grams",),
        "cooker": ("litres",),
        "scale": ("grams",),
    }
)


def read_sheet(text: str) -> Batch:
    """The batch that a sheet describes.

    Missing keys take defaults: assay 0.90 (NaOH 0.98), excess 0.03, and a scale that shows whole grams (common
    practice, no source). Masses are in g, the cooker in litres, shares and assays are mass fractions.

    Raises SheetError for text that cannot be understood or a number outside its range; unknown keys are refused by
    name.

    >>> sheet = '[[oil]]\\nname = "rapeseed"\\ngrams = 600\\n[water]\\ngrams = 540'
    >>> read_sheet(sheet).oils[0].saponification_value
    188.6
    >>> read_sheet("titel = 'x'")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    monitor.formulation.batch_sheet.SheetError: The batch sheet is wrong at 'titel': there is no ...
    """
    sheet = _parse(text)
    _known_keys(sheet, ("title", "started", "lot", "oil", *TABLE_KEYS), "")
    oils = sheet.get("oil", [])
    if not isinstance(oils, list):
        raise SheetError("'oil'", "each oil is a table headed [[oil]]")
    tables = {name: _table(sheet, name) for name in TABLE_KEYS}
    for name, keys in TABLE_KEYS.items():
        _known_keys(tables[name], keys, f"{name}.")
    cooker = tables["cooker"]
    kind = tables["alkali"].get("kind", "KOH")
    if kind != "KOH":
        raise SheetError("'alkali.kind'", f"it is {kind!r}; liquid soap is made with 'KOH'")
    return Batch(
        title=_text(sheet, "title", "", 200, "Untitled batch"),
        oils=tuple(_oil(entry, index) for index, entry in enumerate(oils, 1)),
        alkali=_alkali(tables["alkali"]),
        water_grams=_number(tables["water"], "grams", "water.", 0.0, 100_000.0, 0.0),
        started=_moment(sheet.get("started")),
        glycerol_grams=_number(tables["glycerol"], "grams", "glycerol.", 0.0, 100_000.0, 0.0),
        lot=_text(sheet, "lot", ""),
        cooker_litres=_number(cooker, "litres", "cooker.", 0.5, 200.0, None) if cooker else None,
        scale_grams=_number(tables["scale"], "grams", "scale.", 0.001, 100.0, DEFAULT_SCALE_G),
    )


def _parse(text: str) -> dict[str, object]:
    """The sheet's TOML as a dictionary. Raises SheetError."""
    try:
        text.encode()
        return tomllib.loads(text)
    except UnicodeEncodeError:
        raise SheetError("its text", "it holds half a character, which UTF-8 cannot") from None
    except tomllib.TOMLDecodeError as error:
        raise SheetError("its TOML", str(error)) from None
    except RecursionError:
        raise SheetError("its TOML", "it is nested too deeply") from None
    except ValueError:
        # Python refuses to read integers of more than 4300 digits.
        raise SheetError("its TOML", "it holds a number of too many digits") from None


def _alkali(table: Mapping[str, object]) -> Alkali:
    return Alkali(
        "KOH",
        _number(table, "assay", "alkali.", 0.5, 1.0, DEFAULT_ASSAY),
        _number(table, "excess", "alkali.", -0.2, 0.5, DEFAULT_EXCESS),
        _number(table, "carbonate", "alkali.", 0.0, 0.2, 0.0),
        _number(table, "naoh_share", "alkali.", 0.0, 1.0, 0.0),
        _number(table, "naoh_assay", "alkali.", 0.5, 1.0, DEFAULT_NAOH_ASSAY),
        _number(table, "grams", "alkali.", 0.0, 100_000.0, None) if "grams" in table else None,
        _number(table, "naoh_grams", "alkali.", 0.0, 100_000.0, None) if "naoh_grams" in table else None,
        _text(table, "lot", "alkali."),
    )


def sheet_text(batch: Batch) -> str:
    """The batch as a sheet, which ``read_sheet`` reads back to an equal batch.

    A batch holds no comments, so those of the original sheet are lost.
    """
    alkali = batch.alkali
    lines = _lines({"title": batch.title, "lot": batch.lot or None})
    if batch.started is not None:
        lines.append(f"started = {datetime.fromtimestamp(batch.started, UTC).isoformat()}")
    for oil in batch.oils:
        value = oil.saponification_value if oil.certified else None
        lines += ["[[oil]]", *_lines({"name": oil.name, "grams": oil.grams})]
        lines += _lines({"saponification_value": value, "lot": oil.lot or None})
    alkali_values: dict[str, str | float | None] = {key: getattr(alkali, key) for key in ALKALI_KEYS}
    alkali_values["lot"] = alkali.lot or None
    tables: tuple[tuple[str, Mapping[str, str | float | None]], ...] = (
        ("alkali", alkali_values),
        ("water", {"grams": batch.water_grams}),
        ("glycerol", {"grams": batch.glycerol_grams}),
        ("cooker", {"litres": batch.cooker_litres}),
        ("scale", {"grams": batch.scale_grams}),
    )
    for name, table in tables:
        entries = _lines(table)
        lines += [f"[{name}]", *entries] if entries else []
    return "\n".join(lines) + "\n"


def _lines(table: Mapping[str, str | float | None]) -> list[str]:
    # A JSON string is a TOML basic string, except for DEL, the one control character that JSON allows unescaped.
    return [
        f"{key} = "
        + (json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f") if isinstance(value, str) else repr(value))
        for key, value in table.items()
        if value is not None
    ]


def _oil(entry: object, index: int) -> Oil:
    where = f"oil {index}: "
    if not isinstance(entry, dict):
        raise SheetError(f"oil {index}", "each oil is a table headed [[oil]]")
    _known_keys(entry, ("name", "grams", "saponification_value", "lot"), where)
    name = entry.get("name")
    if not isinstance(name, str):
        raise SheetError(f"'{where}name'", "every oil needs a name")
    grams = _number(entry, "grams", where, 0.1, 100_000.0, None)
    if "saponification_value" in entry:
        value = _number(entry, "saponification_value", where, 50.0, 400.0, None)
    else:
        try:
            value = find_oil(name).saponification_typical
        except ValueError as error:
            raise SheetError(f"'{where}name'", str(error)) from None
    return Oil(name, grams, value, "saponification_value" in entry, _text(entry, "lot", where))


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
    # The comparison comes before any conversion, because an integer may be too large for a float.
    if (
        isinstance(value, bool)
        or not isinstance(value, int | float)
        or value in (math.inf, -math.inf)
        or value != value
    ):
        raise SheetError(f"'{where}{key}'", f"it is {value!r}; it must be a number")
    if not low <= value <= high:
        shown = f"{value:g}" if abs(value) < 1e300 else "beyond any measure"
        raise SheetError(f"'{where}{key}'", f"it is {shown}; it must be from {low:g} to {high:g}")
    return float(value)


def _text(table: Mapping[str, object], key: str, where: str, longest: int = 60, default: str = "") -> str:
    value = table.get(key, default)
    if not isinstance(value, str) or len(value) > longest:
        raise SheetError(f"'{where}{key}'", f"it must be text of at most {longest} characters")
    return value


def _moment(value: object) -> float | None:
    if value is None:
        return None
    if not isinstance(value, datetime):
        raise SheetError("'started'", "it must be a date and time such as 2026-03-14T10:20:00+00:00")
    if value.tzinfo is None:
        raise SheetError("'started'", "its offset from UTC is missing, such as +00:00")
    try:
        return value.astimezone(UTC).timestamp()
    except OverflowError:
        raise SheetError("'started'", "it is beyond the years 1 to 9999 in UTC") from None
