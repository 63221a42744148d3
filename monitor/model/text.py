"""Times, lengths of time and events as text. Times are in the time zone of this machine where no other is named."""

import math
from datetime import UTC, datetime, tzinfo

from monitor.model.records import Event


def local(moment: float, zone: tzinfo | None = None) -> datetime:
    """Unix seconds as a datetime in a time zone, that of this machine where none is named."""
    return datetime.fromtimestamp(moment, UTC).astimezone(zone)


def clock_time(moment: float, zone: tzinfo | None = None) -> str:
    """Hours and minutes of a time in Unix seconds."""
    return f"{local(moment, zone):%H:%M}"


def span(seconds: float) -> str:
    """A length of time.

    >>> span(42), span(600), span(13_500)
    ('42 s', '10 min', '3 h 45 min')
    """
    # Rounding errors of sums are below a millisecond, and must not decide the sign or how the text is rounded.
    seconds = round(seconds, 3)
    if seconds < 120:
        return f"{seconds:z.0f} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60:02d} min"


def signed_span(seconds: float) -> str:
    """A length of time with its sign, which is a plus where it rounds to 0.

    >>> signed_span(-150.0), signed_span(-0.4), signed_span(600.0)
    ('-2 min', '+0 s', '+10 min')
    """
    text = span(abs(seconds))
    return f"{'-' if seconds < 0.0 and text != span(0.0) else '+'}{text}"


def clock_offset_text(seconds: float) -> str:
    """How far a clock is off, for a sentence; positive is ahead.

    >>> clock_offset_text(7200.0), clock_offset_text(-900.0), clock_offset_text(86_400.0 * 100)
    ('2 h ahead', '15 min behind', '100 days ahead')
    """
    size = abs(seconds)
    units = ((120.0, 1.0, "s"), (7200.0, 60.0, "min"), (172_800.0, 3600.0, "h"), (math.inf, 86_400.0, "days"))
    unit_s, unit = next((unit_s, unit) for below, unit_s, unit in units if size < below)
    return f"{size / unit_s:.0f} {unit} {'ahead' if seconds > 0.0 else 'behind'}"


def event_text(event: Event) -> str:
    """The fields of an event with their units; empty where its kind says all.

    >>> from monitor.model.records import Event
    >>> event_text(Event("u", "added", 0.0, 0.0, {"what": "glycerol", "grams": 40.0}))
    'glycerol, 40 g'
    """
    if event.kind == "rig clock":
        ahead_s = event.fields.get("ahead_s")
        return clock_offset_text(ahead_s) if isinstance(ahead_s, float) and ahead_s else "right again"
    if event.kind == "outcome":
        return _outcome_text(event)
    units = {"grams": " g", "sample_g": " g of sample", "water_g": " g of water", "sample_percent": " % sample"}
    units |= {"temperature_c": " °C", "acid_ml": " mL of acid", "acid_mol_l": " mol/L", "bottle_ml": " mL each"}
    units |= {"bottles": " bottles", "check_min": " min a check", "stir_every_min": " min from stir to stir"}
    units |= {"overcook_per_min": " min a minute over-cooked", "run_out_s": " s to run out"}
    units |= {"minutes": " min", "months": " months from filling"}
    units |= {"jar_g": " g in the jar", "stock_g": " g of stock", "stock_percent": " % stock"}
    return ", ".join(
        f"{value:g}{units.get(name, '')}" if isinstance(value, float) else str(value)
        for name, value in event.fields.items()
    )


def _outcome_text(event: Event) -> str:
    before = {
        "lather": "lather ",
        "thickness": "thickness ",
        "complaints": "complaints: ",
        "cloudy_below_c": "cloudy below ",
    }
    return "; ".join(
        f"{before.get(name, '')}{f'{value:g} °C' if isinstance(value, float) else value}"
        for name, value in event.fields.items()
    )
