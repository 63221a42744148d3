"""Moments and spans in words, for the terminal. Times are in the reader's own zone."""

from datetime import UTC, datetime


def local(moment: float) -> datetime:
    """Unix seconds in the zone of this machine."""
    return datetime.fromtimestamp(moment, UTC).astimezone()


def clock_time(moment: float) -> str:
    """Hours and minutes of a moment in Unix seconds."""
    return f"{local(moment):%H:%M}"


def span(seconds: float) -> str:
    """A length of time.

    >>> span(42), span(600), span(13_500)
    ('42 s', '10 min', '3 h 45 min')
    """
    # What is below a millisecond is the dust of sums, and must not decide a rounding or a sign.
    seconds = round(seconds, 3)
    if seconds < 120:
        return f"{seconds:z.0f} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60:02d} min"


def signed_span(seconds: float) -> str:
    """A length of time with its sign; what rounds to nought has a plus.

    >>> signed_span(-150.0), signed_span(-0.4), signed_span(600.0)
    ('-2 min', '+0 s', '+10 min')
    """
    words = span(abs(seconds))
    return f"{'-' if seconds < 0.0 and words != span(0.0) else '+'}{words}"
