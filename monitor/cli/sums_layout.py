"""How the bench sums are laid out in lines: numbers in a column, sentences wrapped, each caution once."""

from collections.abc import Iterable
from textwrap import wrap

from monitor.formulation import Caution, ounces

WIDTH = 96
NUMBER = 12
NUMBER_AND_OUNCES = 20
CAUTION_MARK = "   ! "


def grams_of(grams: float, oz: bool) -> str:
    shown = f"{grams:.0f} g" if grams >= 10_000 else f"{grams:.1f} g"
    return f"{shown} ({ounces(grams):.2f} oz)" if oz else shown


def amount_line(value: str, what: str) -> str:
    return f"{value.rjust(NUMBER_AND_OUNCES if 'oz' in value else NUMBER)}  {what}"


def wrapped(sentences: Iterable[str]) -> list[str]:
    return [line for sentence in sentences for line in wrap(sentence, WIDTH)]


def printed(lines: Iterable[str]) -> list[str]:
    """The lines as they are printed: cautions wrapped, and each once, also where two results have the same one.

    >>> printed(["1 g", "   ! Hot.", "2 g", "   ! Hot.", "3 g"])
    ['1 g', '   ! Hot.', '2 g', '3 g']
    """
    said: set[str] = set()
    kept: list[str] = []
    for line in lines:
        if not line.startswith(CAUTION_MARK):
            kept.append(line)
        elif line not in said:
            said.add(line)
            kept += wrap(line.strip(), WIDTH, initial_indent="   ", subsequent_indent="     ")
    return kept


def caution_lines(cautions: tuple[Caution, ...], beside: str) -> list[str]:
    return [CAUTION_MARK + caution.words for caution in cautions if caution.beside == beside]


def amount_lines(
    amounts: Iterable[tuple[float, str]], oz: bool, cautions: tuple[Caution, ...] = (), meaning: Iterable[str] = ()
) -> list[str]:
    """Grams, each with what they are, the cautions right under the first, then the meaning."""
    first, *others = [amount_line(grams_of(grams, oz), what) for grams, what in amounts] or [""]
    care = [line for beside in {each.beside: 0 for each in cautions} for line in caution_lines(cautions, beside)]
    return [line for line in (first, *care, *others, *wrapped(meaning)) if line]
