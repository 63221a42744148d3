"""Results of a sum: the numbers that are weighed, facts, sentences, and each caution beside its number in one line."""

from collections.abc import Sequence
from typing import Any

from dashboard.components.bench_words import Answer
from dashboard.components.tags import Component, html

NOTHING = "–"


class Results:
    """Makes the results of a page from an answer; ``None`` stands for one that is not there yet, or was refused."""

    def __init__(self, answer: Answer | None) -> None:
        self._answer = answer or Answer()
        self.there = answer is not None
        self._told: set[str] = set()

    def shows(self, part: str) -> bool:
        """Whether a part that is there only now and then is there."""
        return self.there and self._answer.show.get(part, False)

    def out(self, place: str) -> str:
        """A number in words; a dash while there is none, because an old one must not be weighed."""
        return self._answer.out.get(place, NOTHING if not self.there else "")

    @property
    def figure(self) -> Any:
        """A picture of it, None where there is none."""
        return self._answer.figure

    def bar(self) -> dict[str, float]:
        """Where the marks of a drawn range stand."""
        return self._answer.bar

    def weigh(self, place: str, words: str, *cares: str) -> Component:
        """A number to weigh, with the cautions of these places under it."""
        number = html.Div([html.H3(words), html.Output(self.out(place), **{"data-out": place})], className="weigh")
        return html.Div([number, *self.care(*cares)])

    def facts(self, *rows: tuple[str, str]) -> Component:
        """Numbers in a list: (place, words) each; those that are not there now are left out."""
        shown = [(words, place) for place, words in rows if self.out(place)]
        return html.Dl(
            [html.Div([html.Dt(words), html.Dd(self.out(place), **{"data-out": place})]) for words, place in shown]
        )

    def lists(self) -> tuple[str, ...]:
        """The places of the lists, in their order."""
        return tuple(self._answer.rows)

    def listed(self, place: str, kind: str = "") -> Component:
        """A list of what it is and how much. kind: how it looks, by the style sheet."""
        rows = self._answer.rows.get(place, [])
        lines = [html.Div([html.Dt(what), html.Dd(amount)]) for what, amount in rows]
        return html.Dl(lines, className=kind, **{"data-rows": place})

    def said(self, *places: str) -> Component:
        """Sentences."""
        words = [one for place in places for one in self._answer.say.get(place, [])]
        return html.Div([html.P(one) for one in words], className="said", **{"data-say": places[0]})

    def care(self, *places: str) -> list[Component]:
        """Cautions, each once: its first sentence, the rest on demand."""
        found: list[Component] = []
        for place in places:
            self._told.add(place)
            found += [caution(words) for words in self._answer.care.get(place, [])]
        return found

    def rest(self) -> list[Component]:
        """The cautions that no number of the page has beside it, so that none is lost."""
        return self.care(*(place for place in self._answer.care if place not in self._told))


def caution(words: str) -> Component:
    """A caution: its first sentence, the rest on demand."""
    first, stop, rest = words.partition(". ")
    if not rest:
        return html.P(words, className="care")
    return html.Details([html.Summary(first + stop.strip()), html.P(rest)], className="care")


def section(words: str, *inside: Component | Sequence[Component]) -> Component:
    """A part of a page under its heading."""
    return html.Section([html.H2(words), *flat(inside)])


def flat(parts: Sequence[Component | Sequence[Component]]) -> list[Component]:
    """The parts in one list, without those that are not there."""
    found: list[Component] = []
    for part in parts:
        found += [one for one in (part if isinstance(part, list | tuple) else [part]) if one is not None]
    return found
