"""Fields of a form: a number with its unit, a line, a choice, a tick and rows that grow.

A field's place is its name and, where it stands in a row of a list, the row such as ``oils.1``. A refusal has a place
beside each field. A form is drawn from the values that it has, so a form of another shape is one drawn anew.
"""

import json
from collections.abc import Mapping, Sequence
from urllib.parse import quote

from dash import ALL

from dashboard.components.sending import sender
from dashboard.components.tags import Component, dcc, html

Values = Mapping[str, object]
# What stands in a field that is ticked.
TICKED = "yes"
# Every field of a page, every place of a refusal, and every button after which the form is drawn anew.
EVERY_FIELD = {"field": ALL, "row": ALL}
EVERY_REFUSAL = {"refusal": ALL, "row": ALL}
EVERY_ACT = {"act": ALL, "of": ALL}


class Fields:
    """Makes the fields of a form, or of one row of it.

    values: what stands in each field. unit: ``g`` or ``oz``, in which weights are typed. row: of the fields. keeps:
    whether there is a cook to which things can be written.
    """

    def __init__(self, values: Values, unit: str = "g", *, row: str = "", keeps: bool = True) -> None:
        self.values = values
        self.unit = unit
        self.row = row
        self.keeps = keeps

    def text(self, name: str) -> str:
        """What stands in the field."""
        return str(self.values.get(name, "") or "")

    def number(self, name: str, words: str, unit: str = "", *, weighed: bool = False) -> Component:
        """A number. unit: beside it; ``g`` for a weight in the form's unit. weighed: it is read off a scale."""
        shown = self.unit if unit == "g" else unit
        return self._entry(name, words, shown, "field weighed" if weighed else "field", inputMode="decimal")

    def line(self, name: str, words: str, options: str = "") -> Component:
        """A line of text. options: id of a list of what is usual there."""
        return self._entry(name, words, "", "field", **({"list": options} if options else {}))

    def choice(self, name: str, words: str, options: Sequence[tuple[str, str]]) -> Component:
        """One of few, side by side."""
        return html.Fieldset([html.Legend(words), *self._options(name, options)], className="choice")

    def pick(self, name: str, words: str, options: Sequence[str]) -> Component:
        """One of many, folded behind the one that was chosen."""
        chosen = self.text(name) or options[0]
        body = html.Fieldset(
            [html.Legend(words, className="unseen"), *self._options(name, [(one, one) for one in options])],
            className="choice upright",
        )
        return html.Details([html.Summary(f"{words}: {chosen}"), body], className="pick")

    def tick(self, name: str, words: str) -> Component:
        """A statement that a person makes or not."""
        ticked = bool(self.text(name))
        return html.Div([self.hidden(name, TICKED if ticked else ""), act("tick", name, words, pressed=ticked)])

    def _options(self, name: str, options: Sequence[tuple[str, str]]) -> list[Component]:
        chosen = self.text(name) or options[0][0]
        buttons = [act("choose", f"{name}={value}", label, pressed=value == chosen) for value, label in options]
        return [self.hidden(name, chosen), html.Div(buttons, className="options"), self.refusal(name)]

    def hidden(self, name: str, value: str) -> Component:
        """What stands in the form and is not typed."""
        # Dash's frame around an input is seen also where the input is not.
        return html.Div(dcc.Input(id=self._id(name), type="hidden", value=value), hidden=True)

    def rows(self, name: str) -> list["Fields"]:
        """The fields of each row of a list; one empty row where there is none."""
        found = self.values.get(name)
        rows = [row for row in found if isinstance(row, Mapping)] if isinstance(found, list) else []
        return [
            Fields(row, self.unit, row=f"{name}.{number}", keeps=self.keeps) for number, row in enumerate(rows or [{}])
        ]

    def refusal(self, name: str) -> Component:
        """Where a refusal of this field stands."""
        return html.P("", id={"refusal": name, "row": self.row}, className="refusal", role="alert")

    def keep(self, what: str, words: str, *, name: str = "", second: bool = False, **more: object) -> Component:
        """A button that writes a thing of the form to the cook; nothing where there is no cook.

        second: it is not what is usually tapped. more: fields that go with it beside those of the form; ``grams_of``
        names the field of the row that has grams.
        """
        if not self.keeps:
            return None
        body = {"keep": what, "row": self.row, "with": more}
        return sender(
            f"bench-{name or what} {self.row}".rstrip(),
            words,
            "/bench/keep",
            body,
            gathers=True,
            className="keep second" if second else "keep",
        )

    def _entry(self, name: str, words: str, unit: str, kind: str, **more: object) -> Component:
        place = self._id(name)
        field = dcc.Input(id=place, type="text", value=self.text(name), autoComplete="off", **more)
        beside = [html.Span(unit, className="unit")] if unit else []
        label = html.Label(words, htmlFor=written(place), className="words")
        return html.Div([label, html.Div([field, *beside], className="entry"), self.refusal(name)], className=kind)

    def _id(self, name: str) -> dict[str, object]:
        return {"field": name, "row": self.row}


def written(place: Mapping[str, object]) -> str:
    """An id of several parts as Dash writes it."""
    return json.dumps(place, sort_keys=True, separators=(",", ":"))


def act(what: str, of: str, words: str, *, pressed: bool | None = None) -> Component:
    """A button after which the form is drawn anew.

    what: ``choose`` and ``tick`` change a field, ``more`` and ``less`` the rows of a list, others are the page's own.
    pressed: whether it stands for what is chosen, None where it stands for nothing.
    """
    state = {} if pressed is None else {"aria-pressed": str(pressed).lower()}
    # An id may hold no blank (HTML Living Standard, 3.2.6).
    return html.Button(words, id={"act": what, "of": quote(of, safe="=")}, type="button", **state)


def form_of(fields: Sequence[Mapping[str, object]]) -> dict[str, object]:
    """What stands in the fields, from what a callback was given of them; each list as its rows in their order."""
    form: dict[str, object] = {}
    rows: dict[str, dict[str, dict[str, object]]] = {}
    for one in fields:
        place: Mapping[str, str] = one["id"]  # type: ignore[assignment]
        value = one.get("value")
        value = "" if value is None else value
        if place["row"]:
            rows.setdefault(place["row"].partition(".")[0], {}).setdefault(place["row"], {})[place["field"]] = value
        else:
            form[place["field"]] = value
    return form | {name: list(found.values()) for name, found in rows.items()}


def pair(*inside: Component) -> Component:
    """Two fields side by side."""
    return html.Div(list(inside), className="pair")


def folded(words: str, *inside: Component, opened: bool = False) -> Component:
    """What is seldom needed, behind its words."""
    return html.Details([html.Summary(words), *inside], open=opened)
