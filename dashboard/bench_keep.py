"""What a bench page writes to the cook: a better batch sheet, or an event of what was really done."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from dashboard import bench_after, bench_charge, bench_pot
from dashboard.bench_form import FieldError, Form
from dashboard.bench_words import weight
from dashboard.desk import AskedError
from monitor.sums.clarity import LOOKS
from monitor.view import Cook, History, sheet_text


@dataclass(frozen=True, slots=True)
class Kept:
    """What was written. uid: of the event, None for a sheet. clear: fields whose number is now in the log."""

    words: str
    uid: str | None = None
    clear: tuple[str, ...] = ()


def known(cook: Cook) -> History:
    """The cook as it is known now: a sheet or a withdrawal may be later than the last reading or event."""
    return cook.history(cook.now())


Pot = Callable[[], bench_pot.Made] | None


def keep(what: str, form: Form, cook: Cook, pot: Pot) -> Kept:
    """Writes one thing of a page to the cook. pot: the cook's pot, None where it has no sheet.

    Raises FieldError for a field that cannot be used, AskedError for a thing that no page keeps.
    """
    if what not in KEEPERS:
        raise AskedError(f"{what[:40]!r} cannot be kept; there are {', '.join(KEEPERS)}.")
    return KEEPERS[what](form, cook, pot)


def _sheet(form: Form, cook: Cook, _pot: Pot) -> Kept:
    cook.put_sheet(sheet_text(bench_charge.batch_of(form, known(cook).batch)))
    return Kept("The batch sheet of this cook is now as it stands here.")


def _logged(cook: Cook, kind: str, fields: Mapping[str, object], words: str, *clear: str) -> Kept:
    return Kept(f"Logged: {words}.", cook.log_event(kind, None, fields).uid, clear)


def _water(form: Form, cook: Cook, _pot: Pot) -> Kept:
    grams = form.grams("added", "Water poured in", 0.1)
    return _logged(cook, "water added", {"grams": grams}, f"water added, {weight(grams)}", "added")


def _paste(form: Form, cook: Cook, _pot: Pot) -> Kept:
    grams = form.grams("paste_weighed", "The paste", 1.0)
    words = f"Paste weighed: {weight(grams)}"
    return _logged(cook, "note", {"text": words}, words[:1].lower() + words[1:])


def _ph(form: Form, cook: Cook, _pot: Pot) -> Kept:
    reading = bench_pot.reading_of(form)
    if reading is None:
        raise form.refuse("ph", "pH is empty; it must be from 4 to 14")
    fields = {"ph": reading.ph, "sample_percent": reading.sample_percent, "temperature_c": reading.temperature_c}
    return _logged(cook, "ph read", fields, f"pH {reading.ph:g}")


def _neutraliser(form: Form, cook: Cook, pot: Pot) -> Kept:
    reagent = form.choice("reagent", "The reagent", bench_pot.reagent_names())
    grams = form.grams("given", f"{reagent} weighed", 0.01)
    if pot is not None and not form.ticked("in_already"):
        said = bench_pot.neutralising_answer(form, pot())
        for refusal in said.say.get("given", []):
            raise FieldError("given", refusal)
    fields = {"reagent": reagent, "grams": grams}
    return _logged(cook, "neutraliser added", fields, f"{reagent} added, {weight(grams)}", "given")


def _seen(form: Form, cook: Cook, _pot: Pot) -> Kept:
    seen = form.choice("seen", "What is seen", [look.seen for look in LOOKS])
    look = next(each for each in LOOKS if each.seen == seen)
    fields = {"result": look.result, **bench_after.sample_of(form).event}
    return _logged(cook, "checked", fields, f"checked, {look.result}")


def _added(form: Form, cook: Cook, _pot: Pot) -> Kept:
    what = form.text("what", "What was added")
    if not what:
        raise form.refuse("what", "what was added has no name; write one of 1 to 60 characters")
    grams = form.grams("grams", what, 0.01)
    return _logged(cook, "added", {"what": what, "grams": grams}, f"{what} added, {weight(grams)}", "weighed")


KEEPERS: Mapping[str, Callable[[Form, Cook, Pot], Kept]] = MappingProxyType(
    {
        "sheet": _sheet,
        "water": _water,
        "paste": _paste,
        "ph": _ph,
        "neutraliser": _neutraliser,
        "seen": _seen,
        "added": _added,
    }
)
