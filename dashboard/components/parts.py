"""What the page beside the cooker and the replay have in common. The browser fills in what changes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from dashboard.auth.addresses import TLS_PATH
from dashboard.components import shell
from dashboard.components.chart import chart
from dashboard.components.tags import Component, dcc, html

# kind -> what the button says; the order is that of a cook.
BUTTONS: Mapping[str, str] = {
    "oils melted": "Oils melted",
    "lye cooled": "Lye cooled",
    "lye in": "Lye in",
    "thick trace": "Thick trace",
    "lid on": "Lid on",
    "lid off": "Lid off",
    "stirred": "Stirred",
    "checked": "Checked",
    "heat off": "Heat off",
    "finished": "Finished",
    "settled": "Clear or filtered",
    "labelled": "Labelled",
    "note": "Note",
}
# The chart of a running cook, and the store by which the page's script asks for it anew.
COURSE, COURSE_WANTED = "live-course", "course-wanted"
COURSE_PX = 300
CAUTION = "Gloves and goggles on: the paste is hot and caustic."


def link(words: str, to: str) -> Component:
    return html.A(words, href=to, className="way")


def head(title: str, *ways: Component) -> Component:
    return html.Header([html.H1(title, id="title"), html.Nav(list(ways), **{"aria-label": "Pages"})])


def headline() -> Component:
    """What to do next, largest, with one line; on demand why, and what comes after; and what is wrong."""
    return html.Div(
        [
            html.P("", id="pace"),
            html.P("", id="away", role="status", hidden=True),
            due(
                html.Details(
                    [
                        html.Summary("Why?"),
                        html.P("", id="due-why"),
                        html.P(CAUTION, id="caution"),
                        html.P("", id="after"),
                        html.P("", id="after-why"),
                    ],
                    id="why",
                )
            ),
            html.Section([], id="wrong", hidden=True, **{"aria-label": "What is wrong", "aria-live": "polite"}),
            html.Div(seen_button(), id="seen-place"),
            refused_entries(),
            html.Section([], id="known", hidden=True, **{"aria-label": "Wrong, and seen by somebody"}),
            html.Details([html.Summary("", id="aside-words"), html.Div([], id="aside-list")], id="aside", hidden=True),
        ]
    )


def steps() -> Component:
    """The steps before the lid, or those after a clear sample, each ticked when it is logged."""
    return html.Ol([], id="steps", hidden=True, **{"aria-label": "Step by step"})


def unlogged() -> Component:
    """What the curve looks like and nobody logged, as questions."""
    return html.Section([], id="offers", hidden=True, **{"aria-label": "Not logged", "aria-live": "polite"})


def due(*more: Component) -> Component:
    """What to do next, in words that are read from across the kitchen, and the one line under them."""
    return html.Section(
        [
            html.P("Reading the cook…", id="due", role="status", **{"aria-live": "polite"}),
            html.P("", id="due-when"),
            *more,
        ],
        id="next",
        **{"aria-label": "What to do next"},
    )


def seen_button() -> Component:
    """Answers all that is due or wrong, here and on every other way of being told; "Seen" answers one thing."""
    return button("Stop the ringing", id="seen", hidden=True)


def refused_entries() -> Component:
    """What this phone kept and the server would not have, for a person to send again or to discard."""
    return html.Section([], id="refused", hidden=True, **{"aria-label": "Not logged, kept on this phone"})


def waiting_line() -> Component:
    """How much this phone keeps until the server has it."""
    return html.P("", id="waiting", role="status", hidden=True)


def being_told(wall: str) -> Component:
    """This page's own sound, the test of every other way, and the screen. wall: the wall view's address."""
    return html.Section(
        [
            html.H2("Being told"),
            html.P("This page rings only while it is open and the phone is awake.", className="why", id="told-words"),
            html.Div(
                [button("Sound here: off", id="sound"), button("Test notices", id="try")],
                className="pair",
            ),
            html.Ul([], id="try-list", **{"aria-live": "polite"}),
            button("Screen stays on: no", id="awake", hidden=True),
            html.P(
                [
                    "This screen goes dark by itself: to keep it on, this page must come by TLS. ",
                    link("How", TLS_PATH),
                ],
                className="why",
                id="awake-words",
            ),
            html.P(link("Wall view, for a tablet", wall)),
        ],
        id="told",
    )


def course(cook: str) -> Component:
    """The picture of the cook; ``now.register`` has what draws it."""
    return html.Section(
        [chart(COURSE, COURSE_PX), dcc.Store(id=COURSE_WANTED, data={"cook": cook})],
        className="course",
        **{"aria-label": "The course of the cook"},
    )


def three_values() -> Component:
    """How far it is, how hot, and whether a check is worth it."""
    shown = [("Done so far", "done"), ("Paste", "paste"), ("Reads clear", "chance")]
    rows = [html.Div([html.Dt(name), html.Dd("–", id=place)], id=f"{place}-row") for name, place in shown]
    return html.Dl(rows, className="three")


def values() -> Component:
    """The three values; conversion on demand."""
    return html.Section(
        [
            three_values(),
            html.Details(
                [
                    html.Summary("How much is converted"),
                    html.P("", id="converted", className="plain"),
                    html.P(
                        "How much of the oils is soap by now. Done so far is another share: of the cooking that this "
                        "paste is likely to need until a sample reads clear.",
                        className="why",
                    ),
                ],
                id="deeper",
            ),
        ],
        **{"aria-label": "The cook now"},
    )


def log() -> Component:
    """What was logged, the latest first; each row opens to be corrected."""
    return html.Section([html.H2("Logged so far"), html.Ul([], id="log-list")])


@dataclass(frozen=True, slots=True)
class Page:
    """main: the components. start: what the page's script starts from, ready for JSON.

    title: for the browser's tab; kettleside's own if empty. status: of the HTTP answer.
    """

    main: Component
    start: Mapping[str, object]
    title: str = ""
    status: int = 200


def refused(words: str) -> Component:
    """A sentence of refusal, with the way to what the manual tells about it."""
    way = html.A("What to do", href=f"/manual?words={quote(words)}", className="way to-manual")
    return html.Div([html.P(words, className="plain", role="alert"), way])


def still(*inside: object, title: str = "", status: int = 200) -> Page:
    """A page that does not ask for what is new; its callbacks do all that changes on it."""
    return Page(html.Main(list(inside)), {"page": "still"}, f"{title} · kettleside" if title else "", status)


def refusal(words: str, status: int) -> Page:
    """A page that says in one sentence why it cannot be shown."""
    return still(head("kettleside", link("Now", "/")), refused(words), status=status)


def looked_at(cook: str, look: Mapping[str, object], main: Component) -> Page:
    """The live page of one cook. look: what is known, as ``dashboard.live.cook_state`` has it."""
    return Page(main, {"page": "now", "cook": cook, "look": look})


def button(words: str | Sequence[object], **data: object) -> Component:
    return html.Button(words, type="button", **data)


def begin_button(*, hidden: bool = False) -> Component:
    return button("Start a new cook", id="begin", hidden=hidden)


def log_button(kind: str) -> Component:
    """Logs this kind of event, or opens the slip that asks for more."""
    opens = {"checked": "check", "finished": "finish", "settled": "settled", "note": "note"}.get(kind)
    return button(BUTTONS[kind], **({"data-open": opens} if opens else {"data-log": kind}))


def dock() -> Component:
    """The buttons under the thumb, with the strip that takes the last one back."""
    return html.Footer(
        [
            shell.alert_line(),
            waiting_line(),
            html.Div(
                [
                    html.P("", id="strip-words", role="status"),
                    button("Undo", id="undo"),
                    button("5 min earlier", id="earlier"),
                ],
                id="strip",
                hidden=True,
            ),
            html.Div(
                [
                    *(_first(kind) for kind in BUTTONS),
                    # Of the step that is next: where it is worked out and logged, and its timer.
                    html.A("", id="first-page", href="/bench", hidden=True),
                    button("", id="first-timer", hidden=True),
                    begin_button(hidden=True),
                    button("More", **{"data-open": "more"}),
                ],
                id="first",
            ),
        ],
        id="dock",
    )


def _first(kind: str) -> Component:
    shown = log_button(kind)
    shown.id = "first-" + kind.replace(" ", "-")
    shown.hidden = True
    return shown
