"""What a kitchen has taught: in plain sentences, and as a frame to be drawn."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from monitor.estimation import (
    EA,
    EXCESS_EXPONENTS,
    LN_NEED,
    MIXING_FLOORS,
    SCATTERS,
    KitchenModel,
    Prior,
    arrhenius_factor,
    first_prior,
    weighted_quantiles,
)
from monitor.formulation import METRIC, UnitChoice
from monitor.model import Floats

if TYPE_CHECKING:
    import pandas as pd

_SHARES = (0.1, 0.5, 0.9)


@dataclass(frozen=True)
class KitchenReport:
    """The belief before the next cook, as people say it; triples are the 10, 50 and 90 % points.

    need_min: equivalent minutes at 95 degC at the reference excess. ten_degrees: how many times as fast ten degrees
    hotter is at 85 degC. unstirred: speed when long unstirred, against just stirred. follow: how far the need follows
    the excess, 1 as the rate law has it. scatter: of one cook against the next, one sigma in ln.
    """

    cooks: int
    need_min: tuple[float, float, float]
    ten_degrees: float
    unstirred: float
    follow: float
    scatter: float
    plateau_c: float
    plateau_sd_c: float


def need_weights(prior: Prior) -> Floats:
    """The belief about ln need alone, on LN_NEED, shape (71,)."""
    result: Floats = prior.weight.sum(axis=(1, 2, 3))
    return result


def kitchen_report(kitchen: KitchenModel) -> KitchenReport:
    """What the kitchen believes before its next cook."""
    prior = kitchen.prior()
    low, middle, high = weighted_quantiles(np.exp(LN_NEED) / 60.0, need_weights(prior), _SHARES)
    marginal = prior.weight.sum(axis=0)
    ea = float(marginal.sum(axis=(1, 2)) @ EA)
    factors = arrhenius_factor(95.0, ea, 85.0)
    return KitchenReport(
        kitchen.cooks,
        (low, middle, high),
        float(factors),
        float(marginal.sum(axis=(0, 2)) @ MIXING_FLOORS),
        float(marginal.sum(axis=(0, 1)).reshape(-1, len(EXCESS_EXPONENTS)).sum(axis=0) @ EXCESS_EXPONENTS),
        float(kitchen.weight.sum(axis=(1, 2, 3, 4)) @ SCATTERS),
        kitchen.plateau_c,
        kitchen.plateau_sd_c,
    )


def kitchen_text(report: KitchenReport, units: UnitChoice = METRIC) -> list[str]:
    """A line for each thing learned. units: of whoever reads it."""
    if report.cooks:
        head = f"Learned from {report.cooks} finished cook{'s' if report.cooks > 1 else ''} with a clarity check."
    else:
        head = "No finished cook with a clarity check yet (invented ones do not count): these are first judgements."
    low, middle, high = report.need_min
    ten = units.span_text(10.0) if units.in_fahrenheit else "Ten degrees"
    return [
        head,
        f"A batch at 3 % excess needs about {middle:.0f} minutes at {units.temperature_text(95.0)}, well stirred; 8 in "
        f"10 sure of {low:.0f} to {high:.0f}.",
        f"One cook differs from the next by about {report.scatter:.0%}.",
        f"{ten} hotter is about {report.ten_degrees:.1f} times as fast.",
        f"Left unstirred for long, it goes on at about {report.unstirred:.0%} of its speed.",
        f"More alkali shortens it by about {report.follow:.0%} of what the rate law says.",
        f"The paste settles at about {units.temperature_text(report.plateau_c)}, give or take "
        f"{units.span_of(report.plateau_sd_c):.0f}.",
    ]


def needs_frame(kitchens: Sequence[KitchenModel]) -> "pd.DataFrame":
    """The need as it was believed after each number of cooks, for ``need_by_cook``.

    kitchens: after none, one, two cooks and so on. Index ``cooks``; columns ``low_min``, ``middle_min``, ``high_min``:
    the 10, 50 and 90 % points of the equivalent minutes at 95 degC.
    """
    import pandas as pd

    reports = [kitchen_report(kitchen) for kitchen in kitchens]
    frame = pd.DataFrame(
        [report.need_min for report in reports],
        columns=pd.Index(["low_min", "middle_min", "high_min"]),
        index=pd.Index([report.cooks for report in reports], name="cooks"),
    )
    frame.attrs["units"] = dict.fromkeys(frame.columns, "min")
    return frame


def need_frame(kitchen: KitchenModel) -> "pd.DataFrame":
    """The belief about the need before any cook and now, for ``need``: weights over ``need_min``, shape (71, 2).

    need_min: equivalent minutes at 95 degC, well stirred, at the reference excess.
    """
    # Loaded only here, because the sentences and the charts of characters do without.
    import pandas as pd

    beliefs = {"before any cook": need_weights(first_prior()), "now": need_weights(kitchen.prior())}
    frame = pd.DataFrame(beliefs, index=pd.Index(np.exp(LN_NEED) / 60.0, name="need_min"))
    frame.attrs["units"] = {"need_min": "min"}
    return frame
