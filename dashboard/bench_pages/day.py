"""Plan the day: a start, or by when it is to be clear or in bottles; what the hours ask for beside it."""

from dashboard.bench.day import coming_days
from dashboard.bench_pages.facts import BenchFacts, SumPage
from dashboard.bench_pages.plan import begins_from
from dashboard.components.fields import Fields, act, folded, pair
from dashboard.components.results import Results, section
from dashboard.components.tags import Component, html
from dashboard.components.viewer import viewer_zone
from monitor.runtime import SystemClock

WAYS = [("start", "start at"), ("clear", "clear by"), ("bottled", "bottles on")]


def _first(facts: BenchFacts) -> dict[str, object]:
    return {"base": facts.base, "how": "start", "day": "", "time": "", "prepare_min": "45", "rest_days": "7"}


def _inputs(fields: Fields, facts: BenchFacts) -> list[Component]:
    how = fields.text("how") or "start"
    typed = [] if how == "bottled" else [fields.number("time", "At, such as 14.30")]
    now_words = html.P("Empty: now.", className="why")
    return [
        begins_from(fields, facts, "The batch", "a usual one"),
        section(
            "When",
            fields.choice("how", "What is fixed", WAYS),
            _days(fields),
            *(typed or [fields.hidden("time", fields.text("time")), fields.refusal("time")]),
            *([now_words] if how == "start" else []),
            folded(
                "More: preparing, rest",
                pair(
                    fields.number("prepare_min", "From the oils to the lid", "min"),
                    fields.number("rest_days", "Rest before the bottles", "days"),
                ),
            ),
        ),
    ]


def _days(fields: Fields) -> Component:
    days = coming_days(SystemClock().now(), viewer_zone())
    chosen = fields.text("day") or next(iter(days))
    buttons = [act("choose", f"day={date}", words, pressed=date == chosen) for date, words in days.items()]
    body = html.Fieldset(
        [html.Legend("Day", className="unseen"), html.Div(buttons, className="options")], className="choice upright"
    )
    summary = html.Summary(f"Day: {days.get(chosen, chosen)}")
    return html.Div([fields.hidden("day", fields.text("day")), html.Details([summary, body], className="pick")])


def _top(results: Results) -> list[Component]:
    return [
        results.weigh("start", "Start"),
        results.weigh("clear", "Clear, 8 in 10"),
        results.weigh("bottled", "In bottles"),
    ]


def _results(results: Results) -> list[Component]:
    if not results.there:
        return []
    query = results.out("query")
    return [
        results.said("headline"),
        results.facts(
            ("visits", "Wanted at the pot"),
            ("away", "At most apart"),
            ("stir", "Stirs"),
            ("check", "Clarity checks"),
        ),
        *(section(words, results.listed(words, "hours")) for words in results.lists()),
        html.A("Into the phone's calendar", href=f"/bench/day.ics?{query}", className="button"),
        html.A("As text", href=f"/bench/day.txt?{query}", className="button"),
        results.said("attendance"),
    ]


DAY = SumPage(
    first=_first,
    inputs=_inputs,
    results=_results,
    top=_top,
    acts={"from": lambda form, _ounces, of: form | {"base": of}},
    chart=("planned-day", 300, "Full: sure or likely; open: only in a late cook. The band is when 8 in 10 are clear."),
    chart_first=True,
    slow=True,
)
