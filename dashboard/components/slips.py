"""The slips that lie over the live page when more has to be asked than a tap on its buttons says."""

from collections.abc import Mapping, Sequence

from dashboard.components.parts import BUTTONS, CAUTION, button, log_button
from dashboard.components.tags import Component, dcc, html
from monitor.estimation import Costs
from monitor.formulation import size_clarity_sample

RESULTS: Mapping[str, tuple[str, str]] = {
    "clear": ("Clear", "No veil: print can be read through it."),
    "nearly clear": ("Nearly clear", "A breath of a veil: print can be read, but not sharply."),
    "hazy": ("Hazy", "A thin veil, but light shines through."),
    "cloudy": ("Cloudy", "Milky: nothing can be seen through it."),
}
# What the bench weighs where nothing else was typed.
SPOON_G = 5.0
STAGES: Mapping[str, tuple[str, str]] = {
    "thin": ("Thin", "Runs off the spoon."),
    "stiff": ("Stiff", "Stands on the spoon and is hard to stir."),
    "patchy": ("Patchy", "Translucent patches among the opaque."),
    "translucent": ("Translucent", "Like petroleum jelly throughout."),
}
SETTLED: Mapping[str, tuple[str, str]] = {
    "clear": ("Clear", "The clear was poured or siphoned off."),
    "filtered": ("Filtered", "Haze that stayed went through a fine cloth or paper."),
    "cloudy": ("Still cloudy", "It rests on, or is worked at again."),
}
# What else can be logged than what stands under the thumb: what the button says, and the slip that it opens.
MORE: Mapping[str, str] = {"How it looks": "look", "Heat set": "heat", "Costs": "costs"}


def dialogs(costs: Costs) -> Sequence[Component]:
    """Every slip of the page of one cook. costs: what counts for it now."""
    # What comes after the bench has its place under the thumb when its turn has come.
    more = [log_button(kind) for kind in BUTTONS if kind not in ("settled", "labelled")]
    more += [button(text, **{"data-open": slip}) for text, slip in MORE.items()]
    why = html.P(CAUTION, className="why")
    return [
        _slip("more", "What was done?", more),
        _slip("check", "How does the dissolved sample look?", [_sample_steps(), why, _glasses()]),
        _slip("look", "How does the paste look?", [why, *_answers("looked", "paste", STAGES)]),
        _slip("settled", "How does the soap look after its rest?", _answers("settled", "look", SETTLED)),
        _slip("heat", "What is the heat set to?", _heat()),
        _slip("costs", "What does a check cost?", _costs(costs)),
        _slip(
            "finish",
            "Is this cook finished?",
            [
                html.P("Logging stops. The cook moves to the past cooks.", className="why"),
                button("Yes, finished", **{"data-log": "finished"}),
            ],
        ),
        _slip(
            "note",
            "Note",
            [
                html.Label("What should be remembered?", htmlFor="note-text"),
                dcc.Textarea(id="note-text", maxLength=2000),
                button("Keep the note", **{"data-note": "keep"}),
            ],
        ),
    ]


def _sample_steps() -> Component:
    sample = size_clarity_sample(SPOON_G)
    return html.Ol(
        [
            html.Li(f"A spoon of paste, {sample.sample_g:g} g, into a clear glass."),
            html.Li(f"Twice its weight of boiling water, {sample.water_g:g} g."),
            html.Li("Stir until it is dissolved, and hold it against print."),
        ],
        className="steps",
    )


def _glasses() -> Component:
    """The four answers, each with a glass before print: the veil tells them apart, not a colour."""
    return html.Div(
        [
            _answer(
                "checked",
                "result",
                value,
                [
                    html.Span("abc", className=f"glass {value.replace(' ', '-')}", **{"aria-hidden": "true"}),
                    html.Strong(name),
                    html.Span(meaning),
                ],
            )
            for value, (name, meaning) in RESULTS.items()
        ],
        className="glasses",
    )


def _heat() -> list[Component]:
    return [
        *(_answer("heat", "setting", setting.lower(), setting) for setting in ("Low", "High")),
        button("Off", **{"data-log": "heat off"}),
        html.Label("Another setting, as the cooker names it", htmlFor="heat-setting"),
        dcc.Input(id="heat-setting", type="text", maxLength=60),
        button("Log this setting", **{"data-heat": "typed"}),
    ]


def _costs(costs: Costs) -> list[Component]:
    rows = (
        ("check_min", f"Minutes of work for a check (now {costs.check_min:g})"),
        ("overcook_per_min", f"Minutes of work that a minute over-cooked counts as (now {costs.overcook_per_min:g})"),
        ("stir_every_min", f"Minutes from stir to stir (now {costs.stir_every_s / 60.0:g})"),
    )
    fields: list[Component] = []
    for name, label in rows:
        place = f"costs-{name.replace('_', '-')}"
        fields += [html.Label(label, htmlFor=place), dcc.Input(id=place, type="text", inputMode="decimal", maxLength=8)]
    return [
        html.P("When to check is a choice between your work and minutes cooked for nothing.", className="why"),
        *fields,
        button("Set for this cook", **{"data-costs": "cook"}),
        button("Set for all cooks", **{"data-costs": "kitchen"}),
    ]


def _answers(kind: str, field: str, words: Mapping[str, tuple[str, str]]) -> list[Component]:
    return [
        _answer(kind, field, value, [html.Strong(name), html.Span(meaning)]) for value, (name, meaning) in words.items()
    ]


def _answer(kind: str, field: str, value: str, words: str | Sequence[object]) -> Component:
    """A button that logs an event with one field."""
    return button(words, **{"data-log": kind, "data-field": field, "data-value": value})


def _slip(name: str, title: str, inside: Sequence[object]) -> Component:
    return html.Dialog(
        [html.H2(title, id=f"slip-{name}-title"), *inside, button("Back", **{"data-close": "1"})],
        id=f"slip-{name}",
        **{"aria-labelledby": f"slip-{name}-title"},
    )
