"""The jar on the bench: portions of stock and what each did, the pot's dose from them, and the thickening curve."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

from dashboard.bench.form import Form
from dashboard.bench.pot import Made, reagent_names
from dashboard.components.bench_words import Answer, weight
from monitor.formulation import (
    USUAL_JAR_G,
    Jar,
    JarReading,
    ThickeningCurve,
    borate_warning,
    find_neutraliser,
    find_thickener,
    good_ph,
    jar_dose,
    latest_jar,
    thickener_names,
    thickening_curve,
)
from monitor.model import Event
from monitor.runtime import MonitorError

PLACES = {
    "jar_g": ("jar_g", "Product in the jar"),
    "stock_percent": ("stock_percent", "Strength of the stock"),
    "stock_g": ("portion", "Stock in the jar"),
    "readings": ("", "Readings"),
    "look": ("", "The look"),
    "target_ph": ("end_ph", "The pH to stop at"),
    "pot_g": ("pot_g", "The pot"),
    "run_out_s": ("run_out", "The run-out"),
    "wanted_s": ("wanted", "The run-out that is wanted"),
    "thickener": ("thickener", "The thickener"),
    "reagent": ("reagent", "The reagent"),
}
LOOKS = ("clear", "cloudy")


@dataclass(frozen=True, slots=True)
class JarPage:
    """One of the two pages. kind: its event. name: the field of what is in the stock; value: of what is measured."""

    kind: str
    name: str
    value: str
    words: str
    low: float
    high: float
    unit: str
    shown: str


PAGES: Mapping[str, JarPage] = MappingProxyType(
    {
        "jar": JarPage("jar neutralised", "reagent", "ph", "The pH of the jar", 4.0, 14.0, "", "pH {:g}"),
        "thicken": JarPage("jar thickened", "thickener", "run_out", "The run-out", 0.1, 36_000.0, "s", "{:g} s"),
    }
)


def stock_reagents() -> list[str]:
    """The reagents that dissolve in water, those without a warning first."""
    return [name for name in reagent_names() if find_neutraliser(name).kind != "fatty acid"]


def jar_before(form: Form, page: JarPage, events: Sequence[Event]) -> Jar:
    """The jar of the next portion: the log's, unless the form has another or a new one. Raises FieldError."""
    names = stock_reagents() if page.name == "reagent" else thickener_names()
    what = form.choice(page.name, "What is in the stock", names)
    jar_g = form.grams("jar_g", "Product in the jar", 10.0, 5000.0, empty=USUAL_JAR_G)
    percent = form.maybe("stock_percent", "Strength of the stock", 0.01, 100.0, "%")
    typed = Jar(jar_g, what, percent, ())
    found = latest_jar(events, page.kind)
    fresh = found is None or form.ticked("new_jar") or not _alike(found, typed)
    return typed if found is None or fresh else found


def last_jar(events: Sequence[Event], kind: str) -> Jar | None:
    """The last jar of a cook, what is in its stock by its full name, or None. kind: as ``latest_jar``."""
    found = latest_jar(events, kind)
    return None if found is None else replace(found, what=_full_name(found.what))


def _alike(found: Jar, typed: Jar) -> bool:
    """Whether the page's jar is the log's; what was written in ounces comes back with rounding."""
    whats = {_full_name(jar.what) for jar in (found, typed)}
    percents = [jar.stock_percent for jar in (found, typed)]
    return len(whats) == 1 and percents[0] == percents[1] and abs(found.jar_g - typed.jar_g) < 0.1


def _full_name(what: str) -> str:
    try:
        return find_neutraliser(what).name
    except ValueError:
        pass
    try:
        return find_thickener(what, warning_read=True)
    except ValueError:
        return what


def reading_of(form: Form, page: JarPage, before: Jar) -> JarReading | None:
    """The portion and what was measured after it, or None where that is empty. Raises FieldError."""
    value = form.maybe(page.value, page.words, page.low, page.high, page.unit)
    portion = form.maybe_grams("portion", "This portion", 0.0, 500.0)
    if value is None:
        return None
    clear = form.choice("look", "How it looks", LOOKS) == "clear"
    return JarReading(before.stock_so_far_g + (portion or 0.0), value, clear)


def with_portion(form: Form, page: JarPage, events: Sequence[Event]) -> tuple[Jar, JarReading | None]:
    """The jar with the portion on the page, and that portion. Raises FieldError."""
    before = jar_before(form, page, events)
    reading = reading_of(form, page, before)
    if reading is None:
        return before, None
    try:
        return replace(before, readings=(*before.readings, reading)), reading
    except ValueError as error:
        raise form.told(error, PLACES) from None


def answer(form: Form, name: str, events: Sequence[Event], made: Callable[[], Made]) -> Answer:
    """What the jar says of the pot. made: the cook's pot, where no weight of it is typed. Raises FieldError."""
    page = PAGES[name]
    said = Answer(form.ounces)
    jar, now = with_portion(form, page, events)
    warning = borate_warning(jar.what) if jar.what in reagent_names() else None
    said.show |= {"warning": warning is not None, "result": False}
    said.say["warning"] = [] if warning is None else [warning]
    said.say["readings"] = _lines(jar, page, now, form.ounces)
    said.out["so_far"] = weight(jar.stock_so_far_g, form.ounces)
    if warning is not None and not form.ticked("warning_read"):
        said.say["result"] = ["Nothing is said of the pot until the warning has been read."]
        return said
    if not jar.has_two_totals:
        said.say["result"] = ["Read the jar as it is, with an empty portion; then add one and read again."]
        return said
    try:
        (_say_dose if name == "jar" else _say_curve)(said, form, jar, made)
    except ValueError as error:
        found = form.told(error, PLACES)
        if found.field:
            raise found from None
        said.say["result"] = [str(found)]
    return said


def _lines(jar: Jar, page: JarPage, now: JarReading | None, ounces: bool) -> list[str]:
    lines = []
    for reading in jar.readings:
        look = "clear" if reading.clear else "cloudy"
        rest = ", not logged yet" if reading is now else ""
        lines.append(f"{weight(reading.stock_g, ounces)}: {page.shown.format(reading.value)}, {look}{rest}")
    return lines


def _pot_g(form: Form, jar: Jar, made: Callable[[], Made]) -> float:
    typed = form.maybe_grams("pot_g", "The pot", 10.0)
    return made().now.pot.total_g - jar.jar_g if typed is None else typed


def _target_ph(form: Form, made: Callable[[], Made]) -> float:
    target = form.maybe("end_ph", "The pH to stop at", 8.0, 11.0)
    return good_ph(made().now.pot) if target is None else target


def jar_figure(form: Form, name: str, events: Sequence[Event], made: Callable[[], Made]) -> Any:
    """The jar as a figure of ``monitor.plots``; None while it has too few portions, or is refused."""
    from monitor.plots import jar_ph, jar_thickness  # slow to load, and of two pages alone

    jar, _now = with_portion(form, PAGES[name], events)
    unread = jar.what in reagent_names() and borate_warning(jar.what) is not None and not form.ticked("warning_read")
    if unread or not jar.has_two_totals:
        return None
    try:
        if name == "jar":
            return jar_ph(jar, _target_ph(form, made))
        return jar_thickness(jar, _curve(form, jar, made))
    except (ValueError, MonitorError):
        return None


def _curve(form: Form, jar: Jar, made: Callable[[], Made]) -> ThickeningCurve:
    wanted = form.maybe("wanted", "The run-out that is wanted", 0.1, 36_000.0, "s")
    return thickening_curve(jar, _pot_g(form, jar, made), wanted_s=wanted, warning_read=form.ticked("warning_read"))


def _say_dose(said: Answer, form: Form, jar: Jar, made: Callable[[], Made]) -> None:
    target = _target_ph(form, made)
    dose = jar_dose(jar, _pot_g(form, jar, made), target, warning_read=form.ticked("warning_read"))
    low, middle, high = (weight(grams, said.ounces) for grams in dose.stock_g)
    said.show["result"] = dose.first_stock_g > 0.0
    said.grams("first", dose.first_stock_g)
    said.out["dry"] = _dry(jar, dose.first_stock_g, said.ounces)
    said.out["target"] = f"{target:g}"
    said.out["range"] = f"{middle}, likely {low} to {high}"
    said.out["most"] = weight(dose.most_stock_g, said.ounces)
    said.out["slope"] = f"{dose.ph_per_g:.2f} pH, give or take {dose.ph_per_g_sd:.2f}"
    said.say["result"] = list(dose.meaning)
    said.warn(dose.cautions, "jar.")


def _say_curve(said: Answer, form: Form, jar: Jar, made: Callable[[], Made]) -> None:
    curve = _curve(form, jar, made)
    said.show["result"] = curve.stock_g > 0.0
    said.grams("first", curve.first_stock_g)
    said.grams("most", curve.stock_g)
    said.out["dry"] = _dry(jar, curve.first_stock_g, said.ounces)
    said.out["peak"] = "not yet found"
    if curve.peak_g is not None:
        low, high = (weight(grams, said.ounces) for grams in curve.peak_g)
        said.out["peak"] = f"{low} to {high} in the jar"
    said.out["thickest"] = f"{curve.thickest_s:g} s"
    said.say["result"] = list(curve.meaning)
    said.warn(curve.cautions, "jar.")


def _dry(jar: Jar, stock_g: float, ounces: bool) -> str:
    """What is dissolved in so much stock, in words."""
    grams = jar.dissolved_g(stock_g)
    return "strength unknown" if grams is None else f"{weight(grams, ounces)} {jar.what}"


def fields_of(form: Form, name: str, events: Sequence[Event]) -> dict[str, object]:
    """The fields of the event that this portion is. Raises FieldError where nothing was measured."""
    page = PAGES[name]
    jar, reading = with_portion(form, page, events)
    if reading is None:
        raise form.refuse(page.value, f"{page.words} is empty; it must be from {page.low:g} to {page.high:g}")
    measured = "ph" if page.value == "ph" else "run_out_s"
    fields: dict[str, object] = {"jar_g": jar.jar_g, page.name: jar.what, "stock_g": reading.stock_g}
    fields |= {measured: reading.value, "look": "clear" if reading.clear else "cloudy"}
    return fields if jar.stock_percent is None else fields | {"stock_percent": jar.stock_percent}
