"""Short openings of the lid, in which a paste is stirred: dips of a known shape in the temperature curve.

While the lid is off the paste loses heat at a new pace; when it is on again the loss is made up over half an hour
or, as far as stirring brings up hotter paste from the wall, within a minute. The wall gives more heat to a stirred
paste and falls a little. This is a matched filter: each shape is fitted, together with a parabola for what the cooker
does meanwhile, at every moment of the curve, and the fitted depth over the spread of the depths elsewhere in the cook
is its strength.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from monitor.detection.grid import UniformSeries
from monitor.model import Floats

BEFORE_S = 500.0
AFTER_S = 450.0
OPEN_S = (50.0, 90.0)
# The element makes up the loss slowly; these shares of it paste from the wall makes up soon.
SLOWLY_S, SOON_S = 1500.0, 50.0
SOON_SHARES = (0.0, 0.5, 1.0)
# The wall falls as the stirred paste takes its heat, and comes back as the paste settles.
WALL_FALLS_S = 150.0
WALL_BACK_S = 1500.0
# The wall's dip may lie this far from the paste's.
WALL_OFFSET_S = 20.0
# The wall counts for less than the paste: a thermostat moves it too.
WALL_WEIGHT = 0.4
# Two dips closer than this are a single one.
APART_S = 300.0
# Strength that is worth a suggestion, with one probe and with two: set on virtual kitchens (tests/bench/noticed_rates).
ONE_PROBE_LIMIT, TWO_PROBE_LIMIT = 2.55, 3.3
PASTE_AT_LEAST = 0.8
# No probe is steadier than this (degC), whatever its quantised readings say.
QUIETEST_PASTE_C, QUIETEST_WALL_C = 0.03, 0.07
# The dips themselves spoil the spread, so its lower part is used: this quantile of the absolute value of a standard
# normal is 0.4538.
CALM_QUANTILE, CALM_SIZE = 0.35, 0.4538
SMALLEST_SPREAD_C = 0.01


@dataclass(frozen=True, slots=True)
class StirDip:
    """A lid that was off for a minute or two.

    closed: when it was on again, Unix seconds. strength: above 0; worth a suggestion from 1 on.
    """

    closed: float
    strength: float


def stir_dips(paste: UniformSeries, wall: UniformSeries | None, settled: float) -> list[StirDip]:
    """The dips that the curves show, in order of time.

    paste, wall: on the same grid; wall is None without a probe there. settled: from when the paste's curve is calm
    enough, Unix seconds.
    """
    step_s = paste.step_s
    shape = [(opened, share) for share in SOON_SHARES for opened in OPEN_S]
    dips = np.array([_dip(_offsets(step_s), opened, share) for opened, share in shape])
    strengths = _strengths(paste, dips, settled, QUIETEST_PASTE_C)
    if strengths is None:
        return []
    which = np.argmax(strengths, axis=0)
    strength = np.max(strengths, axis=0)
    limit = ONE_PROBE_LIMIT
    if wall is not None:
        wall_dips = np.array([_wall_dip(_offsets(step_s), opened) for opened in OPEN_S])
        wall_strength = _strengths(wall, wall_dips, settled, QUIETEST_WALL_C)
        if wall_strength is not None:
            near = _highest_near(np.max(wall_strength, axis=0), round(WALL_OFFSET_S / step_s))
            strength = np.where(strength > PASTE_AT_LEAST, strength + WALL_WEIGHT * np.maximum(near, 0.0), 0.0)
            limit = TWO_PROBE_LIMIT
    strength[paste.times < settled] = 0.0
    return [
        StirDip(float(paste.times[i]) - step_s / 2 + shape[which[i]][0], float(strength[i]) / limit)
        for i in _peaks(strength, limit, round(APART_S / step_s))
    ]


def _offsets(step_s: float) -> Floats:
    """Seconds from the opening to each bin of the fitted window, shape (w,)."""
    offsets: Floats = step_s * np.arange(-round(BEFORE_S / step_s), round(AFTER_S / step_s), dtype=np.float64)
    return offsets


def _dip(offset_s: Floats, opened_s: float, soon_share: float) -> Floats:
    """What the paste loses, 1 at the most, shape (w,). soon_share: part of it that is made up soon, 0 to 1."""
    since_s = np.maximum(offset_s - opened_s, 0.0)
    left = (1.0 - soon_share) * np.exp(-since_s / SLOWLY_S) + soon_share * np.exp(-since_s / SOON_S)
    return np.clip(offset_s / opened_s, 0.0, 1.0) * left


def _wall_dip(offset_s: Floats, opened_s: float) -> Floats:
    """What the wall loses once the paste has been stirred, 1 at the most, shape (w,)."""
    since_s = np.maximum(offset_s - opened_s, 0.0)
    result: Floats = -np.expm1(-since_s / WALL_FALLS_S) * np.exp(-since_s / WALL_BACK_S)
    return result


def _strengths(curve: UniformSeries, shapes: Floats, settled: float, quietest_c: float) -> Floats | None:
    """Depth over its spread of each shape at each bin of the curve, shape (k, n).

    shapes: shape (k, w). settled: Unix seconds. quietest_c: the least noise of this probe, degC.

    None where the curve is shorter than the window.
    """
    width = shapes.shape[1]
    if len(curve.value) < width + 2:
        return None
    along = np.linspace(-1.0, 1.0, width)
    basis, _ = np.linalg.qr(np.stack([np.ones(width), along, along**2], axis=1))
    beyond = shapes - (shapes @ basis) @ basis.T
    size = (beyond**2).sum(axis=1)
    windows = sliding_window_view(curve.value - curve.value.mean(), width)
    depth = -(windows @ beyond.T).T / size[:, None]
    left = (windows**2).sum(axis=1) - ((windows @ basis) ** 2).sum(axis=1) - depth**2 * size[:, None]
    # The misfit just here, degC: a cooker that bends the curve in another shape is no opening.
    misfit = np.sqrt(np.maximum(left, 0.0) / (width - 4))
    before = round(BEFORE_S / curve.step_s)
    calm = curve.times[before : before + depth.shape[1]] >= settled
    if not calm.any():
        return None
    noise_c = max(_noise_c(curve.value), quietest_c)
    spread = np.quantile(np.abs(depth[:, calm]), CALM_QUANTILE, axis=1) / CALM_SIZE
    least = np.maximum(spread, noise_c / np.sqrt(size) + SMALLEST_SPREAD_C)
    here = depth / np.maximum(least[:, None], misfit / np.sqrt(size)[:, None])
    here[:, sliding_window_view(curve.seen, width).mean(axis=1) < 0.9] = 0.0
    placed = np.zeros((len(shapes), len(curve.value)))
    placed[:, before : before + here.shape[1]] = here
    return placed


def _noise_c(value: Floats) -> float:
    """The standard deviation of single bins about a straight line, degC, by the median absolute deviation."""
    bend = np.diff(value, 2)
    return 1.4826 * float(np.median(np.abs(bend - np.median(bend)))) / math.sqrt(6.0)


def _highest_near(strength: Floats, reach: int) -> Floats:
    """The highest value within ``reach`` bins of each, shape (n,)."""
    padded = np.pad(strength, reach, mode="edge")
    highest: Floats = sliding_window_view(padded, 2 * reach + 1).max(axis=1)
    return highest


def _peaks(strength: Floats, limit: float, apart: int) -> list[int]:
    """Places of the peaks at or above the limit, at least ``apart`` from each other, the strongest first to count."""
    left = strength.copy()
    peaks = []
    while left[i := int(left.argmax())] >= limit:
        peaks.append(i)
        left[max(0, i - apart) : i + apart + 1] = 0.0
    return sorted(peaks)
