"""What a person typed on a bench page, read in the units of that page, each refusal told beside its field."""

import re
from collections.abc import Mapping, Sequence

from monitor.chemistry import IN_PERCENT, DisplayUnits, OutOfRangeError, check_range, plain_words, told_range
from monitor.formulation import OUNCE_G
from monitor.runtime import MonitorError

MOST_ROWS = 20
MOST_G = 100_000.0
_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)\Z", re.ASCII)
# A comma before three figures is a thousand to one person and a fraction to another.
_UNCLEAR = re.compile(r"[-+]?[1-9]\d*,\d{3}\Z", re.ASCII)


class FieldError(MonitorError):
    """What stands in a field cannot be used. field: its name on the page; why: one sentence with what is allowed."""

    def __init__(self, field: str, why: str) -> None:
        self.field = field
        self.why = why
        super().__init__(why)


class Form:
    """The fields of one page, or of one row of it.

    ounces: weights are typed in ounces. place: what the row's places on the page begin with, such as ``oils.1.``.

    A field is text as it was typed, or missing. Every reader takes the field's name and the words it goes by on the
    page, and raises FieldError for what is not allowed.
    """

    def __init__(self, fields: Mapping[str, object], *, ounces: bool = False, place: str = "") -> None:
        self._fields = fields
        self.place = place
        self.ounces = ounces

    def number(
        self, name: str, words: str, low: float, high: float, unit: str = "", *, empty: float | None = None
    ) -> float:
        """The number from ``low`` to ``high``; where nothing was typed ``empty``, or a refusal when that is None."""
        found = self.maybe(name, words, low, high, unit)
        if found is not None:
            return found
        if empty is None:
            raise self._refused(name, f"{words} is empty; it must be {told_range(low, high, unit)}")
        return empty

    def maybe(self, name: str, words: str, low: float, high: float, unit: str = "") -> float | None:
        """The number from ``low`` to ``high``, or None where nothing was typed."""
        text = self._text(name)
        if not text:
            return None
        if _UNCLEAR.match(text):
            whole, _, rest = text.partition(",")
            raise self._refused(
                name, f"{words} is {text!r}, which may be {whole}{rest} or {whole}.{rest}; write either"
            )
        plain = text.replace(",", ".")
        if len(plain) > 20 or not _NUMBER.match(plain):
            told = told_range(low, high, unit)
            raise self._refused(name, f"{words} is {text[:20]!r}; it must be a number {told}")
        try:
            return check_range(words, float(plain), low, high, unit)
        except ValueError as error:
            raise self._refused(name, str(error)) from None

    def grams(
        self, name: str, words: str, low: float = 0.0, high: float = MOST_G, *, empty: float | None = None
    ) -> float:
        """A weight in g, typed in the page's unit."""
        found = self.maybe_grams(name, words, low, high)
        if found is None:
            return self.number(name, words, *self._bounds(low, high), self._unit, empty=empty)
        return found

    def maybe_grams(self, name: str, words: str, low: float = 0.0, high: float = MOST_G) -> float | None:
        """A weight in g, typed in the page's unit, or None."""
        found = self.maybe(name, words, *self._bounds(low, high), self._unit)
        return found if found is None or not self.ounces else found * OUNCE_G

    @property
    def units(self) -> DisplayUnits:
        """The units in which this page's numbers are typed."""
        return {**IN_PERCENT, "g": ("oz", 1.0 / OUNCE_G)} if self.ounces else IN_PERCENT

    @property
    def _unit(self) -> str:
        return "oz" if self.ounces else "g"

    def _bounds(self, low: float, high: float) -> tuple[float, float]:
        return (low / OUNCE_G, high / OUNCE_G) if self.ounces else (low, high)

    def share(self, name: str, words: str, low: float, high: float, *, empty: float | None = None) -> float:
        """A fraction that is typed in per cent; the bounds are in per cent too."""
        found = self.maybe_share(name, words, low, high)
        return self.number(name, words, low, high, "%", empty=empty) / 100.0 if found is None else found

    def maybe_share(self, name: str, words: str, low: float, high: float) -> float | None:
        """A fraction that is typed in per cent, or None."""
        found = self.maybe(name, words, low, high, "%")
        return None if found is None else found / 100.0

    def text(self, name: str, words: str, longest: int = 60) -> str:
        """Text without its outer blanks, at most ``longest`` characters."""
        text = self._text(name)
        if len(text) > longest:
            raise self._refused(name, f"{words} has {len(text)} characters; it may have from 0 to {longest}")
        return text

    def choice(self, name: str, words: str, allowed: Sequence[str]) -> str:
        """One of ``allowed``; the first where nothing was chosen."""
        text = self._text(name) or allowed[0]
        if text not in allowed:
            raise self._refused(name, f"{words} is {text[:60]!r}; it must be one of {', '.join(allowed)}")
        return text

    def ticked(self, name: str) -> bool:
        """Whether a box was ticked."""
        return self._fields.get(name) in (True, "yes")

    def rows(self, name: str) -> list["Form"]:
        """The rows of a list, each a form of its own."""
        rows = self._fields.get(name, [])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            raise self._refused(name, f"{name} must be a list of rows")
        if len(rows) > MOST_ROWS:
            raise self._refused(name, f"{name} has {len(rows)} rows; there may be from 0 to {MOST_ROWS}")
        return [Form(row, ounces=self.ounces, place=f"{name}.{n}.") for n, row in enumerate(rows)]

    def refuse(self, name: str, why: str) -> FieldError:
        """An error beside a field, for its caller to raise. why: one sentence without its full stop."""
        return self._refused(name, why)

    def told(self, error: ValueError, places: Mapping[str, tuple[str, str]]) -> FieldError:
        """A sum's refusal beside the field that it is about, for its caller to raise, in what was typed there.

        places: by what the sum calls a number, the field it is typed in and what it goes by on the page. A refusal that
        is of no number goes by its first word.
        """
        if isinstance(error, OutOfRangeError):
            field, words = places.get(error.name, ("", plain_words(error.name)))
            return self._refused(field, error.in_words(words, self.units))
        first, _, rest = str(error).partition(" ")
        field, words = places.get(first, ("", first))
        return self._refused(field, f"{words} {rest}")

    def _refused(self, name: str, why: str) -> FieldError:
        return FieldError(self.place + name, why[:1].upper() + why[1:].rstrip(".") + ".")

    def _text(self, name: str) -> str:
        value = self._fields.get(name, "")
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise self._refused(name, f"{name} must be text")
        return str(value).strip()
