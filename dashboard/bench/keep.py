"""What a bench page writes to the cook: a better batch sheet, or an event of what was really done."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from dashboard.bench import after, jar, outcome
from dashboard.bench import charge as bench_charge
from dashboard.bench import paste as bench_paste
from dashboard.bench import pot as bench_pot
from dashboard.bench.form import FieldError, Form
from dashboard.components.answers import AskedError
from dashboard.components.bench_words import weight
from monitor.formulation import CLARITY_LOOKS, TitrationInputs, sheet_text
from monitor.model import History
from monitor.session import Cook


@dataclass(frozen=True, slots=True)
class SavedEntry:
    """What was written. uid: of the event, None for a sheet. clear: fields whose number is now in the log."""

    words: str
    uid: str | None = None
    clear: tuple[str, ...] = ()


def known(cook: Cook) -> History:
    """The cook as it is known now: a sheet or a withdrawal may be later than the last reading or event."""
    return cook.history(max(cook.now(), cook.last_known))


Pot = Callable[[], bench_pot.Made] | None


# kind of event -> the fields whose number it took.
CLEARED: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "water added": ("added",),
        "boiled off": ("water_lost",),
        "paste weighed": ("paste_weighed",),
        "bottled": ("bottles_filled", "bottled_g"),
        "neutraliser added": ("given", "ph"),
        "added": ("weighed",),
        "jar neutralised": ("portion", "ph"),
        "jar thickened": ("portion", "run_out"),
    }
)


@dataclass(frozen=True, slots=True)
class Target:
    """Where a thing is kept: the cook, and the id that the phone made for it, so that twice sent is kept once."""

    cook: Cook
    uid: str | None = None


def keep(what: str, form: Form, cook: Cook, pot: Pot, uid: str | None = None) -> SavedEntry:
    """Writes one thing of a page to the cook. pot: the cook's pot, None where it has no sheet.

    uid: the entry's id, as ``Cook.log_event`` takes it; what was kept by it before is not written again.
    Raises FieldError for a field that cannot be used, AskedError for a thing that no page keeps.
    """
    if what not in KEEPERS:
        raise AskedError(f"{what[:40]!r} cannot be kept; there are {', '.join(KEEPERS)}.")
    before = None if uid is None else cook.logged(uid)
    if before is not None:
        # Not judged again: by now the pot is what it became by this very entry.
        return SavedEntry(f"Logged: {before.kind}.", before.uid, CLEARED.get(before.kind, ()))
    return KEEPERS[what](form, Target(cook, uid), pot)


def _sheet(form: Form, to: Target, _pot: Pot) -> SavedEntry:
    cook = to.cook
    history = known(cook)
    text = sheet_text(bench_charge.batch_of(form, history.batch))
    if history.batch is None or sheet_text(history.batch) != text:
        cook.put_sheet(text)
    log_weighed(form, cook, history)
    return SavedEntry("The batch sheet of this cook is now as it stands here.")


def log_weighed(form: Form, cook: Cook, history: History | None = None) -> None:
    """Logs each figure of the charge that was weighed, once. history: what is in the log already."""
    latest = {} if history is None else bench_charge.last_weighed(history.events)
    for what, grams in bench_charge.weighed_of(form):
        if latest.get(what) != grams:
            cook.log_event("weighed", None, {"what": what, "grams": grams})


def _logged(
    to: Target, kind: str, fields: Mapping[str, object], words: str, measured: float | None = None
) -> SavedEntry:
    event = to.cook.log_event(kind, measured, fields, to.uid)
    return SavedEntry(f"Logged: {words}.", event.uid, CLEARED.get(kind, ()))


def _water(form: Form, to: Target, _pot: Pot) -> SavedEntry:
    grams = form.grams("added", "Water poured in", 0.1)
    return _logged(to, "water added", {"grams": grams}, f"water added, {weight(grams)}")


def _paste(form: Form, to: Target, pot: Pot) -> SavedEntry:
    lost_g = form.maybe_grams("water_lost", "Water boiled off", 0.1)
    if lost_g is None:
        grams = form.grams("paste_weighed", "The paste", 1.0)
    if pot is not None:
        # Refused beside its field where the paste cannot weigh so much, or so much cannot boil off.
        pot()
    if lost_g is not None:
        return _logged(to, "boiled off", {"grams": lost_g}, f"boiled off, {weight(lost_g)}")
    return _logged(to, "paste weighed", {"grams": grams}, f"paste weighed, {weight(grams)}")


def _titrated(form: Form, to: Target, _pot: Pot) -> SavedEntry:
    return _logged_titration(bench_pot.titration_of(form).inputs, to)


def _paste_sample(form: Form, to: Target, _pot: Pot) -> SavedEntry:
    return _logged_titration(bench_paste.paste_titration_of(form), to, bench_paste.minutes_ago_of(form))


def _logged_titration(read: TitrationInputs, to: Target, minutes_ago: float = 0.0) -> SavedEntry:
    fields = {"acid_ml": read.acid_ml, "acid_mol_l": read.acid_mol_l, "sample_g": read.sample_g}
    measured = to.cook.now() - 60.0 * minutes_ago if minutes_ago else None
    return _logged(to, "titrated", fields, f"titrated, {read.acid_ml:g} mL", measured)


def _bottled(form: Form, to: Target, _pot: Pot) -> SavedEntry:
    count = form.number("bottles_filled", "The number of bottles filled", 0.0, 10_000.0)
    each = form.number("bottle_ml", "A bottle", 5.0, 20_000.0, "mL", empty=250.0)
    grams = form.maybe_grams("bottled_g", "The soap in them", 1.0)
    fields = {"bottles": count, "bottle_ml": each} | ({} if grams is None else {"grams": grams})
    return _logged(to, "bottled", fields, f"{count:g} bottles of {each:g} mL")


def _ph(form: Form, to: Target, _pot: Pot) -> SavedEntry:
    reading = bench_pot.reading_of(form)
    if reading is None:
        raise form.refuse("ph", "the pH is empty; it must be from 4 to 14")
    fields = {"ph": reading.ph, "sample_percent": reading.sample_percent, "temperature_c": reading.temperature_c}
    return _logged(to, "ph read", fields, f"pH {reading.ph:g}")


def _neutraliser(form: Form, to: Target, pot: Pot) -> SavedEntry:
    reagent = form.choice("reagent", "The reagent", bench_pot.reagent_names())
    grams = form.grams("given", f"{reagent} weighed", 0.01)
    if pot is not None and not form.ticked("in_already"):
        said = bench_pot.neutralising_answer(form, pot())
        for refusal in said.say.get("given", []):
            raise FieldError("given", refusal)
    fields = {"reagent": reagent, "grams": grams}
    return _logged(to, "neutraliser added", fields, f"{reagent} added, {weight(grams)}")


def _seen(form: Form, to: Target, _pot: Pot) -> SavedEntry:
    seen = form.choice("seen", "What is seen", [look.seen for look in CLARITY_LOOKS])
    look = next(each for each in CLARITY_LOOKS if each.seen == seen)
    fields = {"result": look.result, **after.sample_of(form).event}
    return _logged(to, "checked", fields, f"checked, {look.result}")


def _added(form: Form, to: Target, _pot: Pot) -> SavedEntry:
    what = form.text("what", "What was added")
    if not what:
        raise form.refuse("what", "what was added has no name; write one of 1 to 60 characters")
    grams = form.grams("grams", what, 0.01)
    return _logged(to, "added", {"what": what, "grams": grams}, f"{what} added, {weight(grams)}")


def _jar(form: Form, to: Target, _pot: Pot) -> SavedEntry:
    fields = jar.fields_of(form, "jar", known(to.cook).events)
    return _logged(to, "jar neutralised", fields, f"pH {fields['ph']:g} of the jar")


def _thickened(form: Form, to: Target, _pot: Pot) -> SavedEntry:
    fields = jar.fields_of(form, "thicken", known(to.cook).events)
    return _logged(to, "jar thickened", fields, f"{fields['run_out_s']:g} s to run out")


def _keeping(form: Form, to: Target, _pot: Pot) -> SavedEntry:
    return _logged(to, "keeping", after.keeping_of(form), "what is known of its keeping")


def _outcome(form: Form, to: Target, _pot: Pot) -> SavedEntry:
    fields = outcome.fields_of(form)
    return _logged(to, "outcome", fields, f"after the week, {fields['look']}")


KEEPERS: Mapping[str, Callable[[Form, Target, Pot], SavedEntry]] = MappingProxyType(
    {
        "sheet": _sheet,
        "water": _water,
        "paste": _paste,
        "ph": _ph,
        "titrated": _titrated,
        "paste sample": _paste_sample,
        "bottled": _bottled,
        "neutraliser": _neutraliser,
        "seen": _seen,
        "added": _added,
        "jar": _jar,
        "thicken": _thickened,
        "outcome": _outcome,
        "keeping": _keeping,
    }
)
