"""What a kitchen has taught, in plain words and one picture."""

import math
from dataclasses import dataclass
from xml.sax.saxutils import escape

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
from monitor.model import Floats

_SHARES = (0.1, 0.5, 0.9)
_BARS = " ▁▂▃▄▅▆▇█"
_WIDTH, _HEIGHT, _LEFT, _BOTTOM = 640, 300, 20, 250


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
        float(marginal.sum(axis=(0, 1)) @ EXCESS_EXPONENTS),
        float(kitchen.weight.sum(axis=(1, 2, 3, 4)) @ SCATTERS),
        kitchen.plateau_c,
        kitchen.plateau_sd_c,
    )


def kitchen_text(told: KitchenReport) -> list[str]:
    """A line for each thing learned."""
    if told.cooks:
        head = f"Learned from {told.cooks} finished cook{'s' if told.cooks > 1 else ''} with a clarity check."
    else:
        head = "No finished cook with a clarity check yet (invented ones do not count): these are first judgements."
    low, middle, high = told.need_min
    return [
        head,
        f"A batch at 3 % excess needs about {middle:.0f} minutes at 95 °C, well stirred; 8 in 10 sure of {low:.0f} to "
        f"{high:.0f}.",
        f"One cook differs from the next by about {told.scatter:.0%}.",
        f"Ten degrees hotter is about {told.ten_degrees:.1f} times as fast.",
        f"Left unstirred for long, it goes on at about {told.unstirred:.0%} of its speed.",
        f"More alkali shortens it by about {told.follow:.0%} of what the rate law says.",
        f"The paste settles at about {told.plateau_c:.0f} °C, give or take {told.plateau_sd_c:.0f}.",
    ]


def kitchen_sparkline(prior: Prior, width: int = 61) -> str:
    """The belief about the need as one row of bars, from a third to three times the first guess."""
    centre = math.log(float(np.exp(LN_NEED[len(LN_NEED) // 2])))
    at = np.linspace(centre - math.log(3.0), centre + math.log(3.0), width)
    heights = np.interp(at, LN_NEED, need_weights(prior))
    return "".join(_BARS[round(float(h) / float(heights.max()) * (len(_BARS) - 1))] for h in heights)


def kitchen_svg(kitchen: KitchenModel) -> str:
    """An SVG picture: the need as believed before any cook and now. Readable in light and dark."""
    prior = kitchen.prior()
    told = kitchen_report(kitchen)
    minutes = np.exp(LN_NEED) / 60.0
    before, now = need_weights(first_prior()), need_weights(prior)
    top = float(max(before.max(), now.max()))
    title = escape(f"Equivalent minutes at 95 °C that a batch needs, after {told.cooks} cooks")
    ticks = "".join(
        f'<line x1="{_x(m):.1f}" y1="{_BOTTOM}" x2="{_x(m):.1f}" y2="{_BOTTOM + 6}"/>'
        f'<text x="{_x(m):.1f}" y="{_BOTTOM + 24}" text-anchor="middle">{m}</text>'
        for m in (60, 90, 120, 160, 220, 300, 420)
    )
    low, middle, high = told.need_min
    return f"""<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" aria-label="{title}">
<style>
svg {{ color: #2a2622; background: #fbf8f2; font: 15px sans-serif }} text {{ fill: currentColor }}
line, path {{ stroke: currentColor; fill: none }} .now {{ stroke-width: 3 }} .before {{ stroke-dasharray: 5 5 }}
@media (prefers-color-scheme: dark) {{ svg {{ color: #f1ebe0; background: #1d1a17 }} }}
</style>
<text x="{_LEFT}" y="24">{title}</text>
<text x="{_LEFT}" y="46">full: now, {middle:.0f}, 8 in 10 from {low:.0f} to {high:.0f}; dashed: before any cook</text>
<line x1="{_LEFT}" y1="{_BOTTOM}" x2="{_WIDTH - _LEFT}" y2="{_BOTTOM}"/>{ticks}
<path class="before" d="{_curve(minutes, before, top)}"/>
<path class="now" d="{_curve(minutes, now, top)}"/>
</svg>
"""


def _x(minutes: float) -> float:
    first, last = math.log(50.0), math.log(500.0)
    return _LEFT + (math.log(minutes) - first) / (last - first) * (_WIDTH - 2 * _LEFT)


def _curve(minutes: Floats, weights: Floats, top: float) -> str:
    inside = (minutes >= 50.0) & (minutes <= 500.0)
    points = [
        f"{_x(float(m)):.1f},{_BOTTOM - 180.0 * float(w) / top:.1f}"
        for m, w in zip(minutes[inside], weights[inside], strict=True)
    ]
    return "M" + " L".join(points)
