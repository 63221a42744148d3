"""The course of a cook as a picture that prints: made here, without a browser, and shown without a script."""

from dataclasses import dataclass

import numpy as np

from dashboard.components.viewer import zone_name
from monitor.exchange import events_frame, readings_frame
from monitor.model import History
from monitor.plots import alt_text, course, course_address

# Of the narrowest phones, less the page's margins.
PHONE_PX = 328.0


@dataclass(frozen=True, slots=True)
class Picture:
    """The picture as an image's address, for paper and for a phone.

    words: the same in a sentence. zone: of its times.
    """

    address: str
    narrow: str
    words: str
    zone: str


def course_picture(history: History) -> Picture | None:
    """The course of the cook by the viewer's clock; None where there is no reading of the paste."""
    if not np.isfinite(history.temperature_c("paste")[1]).any():
        return None
    zone = zone_name()
    figure = course(readings_frame(history).tz_convert(zone), events_frame(history))
    return Picture(course_address(figure), course_address(figure, PHONE_PX), alt_text(figure), zone)
