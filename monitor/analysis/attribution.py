"""How the time of one cook is shared among causes.

Against a steady pace r0 = f0 m0 (the rate at the reference plateau, stirred every 35 minutes) a cook with rate f m
loses exactly the integral of 1 - F M, with F = f/f0 and M = m/m0. Second by second it is shared between temperature
and mixing as (1-F)(1+M)/2 and (1-M)(1+F)/2, the Shapley values of two causes (Shapley, A Value for n-Person Games,
1953): they add up to 1 - F M, and neither depends on which cause is counted first. The share of temperature goes on,
again additively, to the plateau, the warm-up and the disturbances.
"""

from dataclasses import dataclass

import numpy as np

from monitor.analysis.reference import ReferencePace
from monitor.detection import GRID_S, Disturbance, DisturbanceReport, going_on
from monitor.estimation import EA, MIXING_FADE_S, MIXING_FLOORS, NEED_S, EquivalentTime, Posterior, mixing_factor
from monitor.model import Event, Floats

WARM_UP, PLATEAU, STIRS, PAST_CLEAR, BATCH = "slow warm-up", "low plateau", "late stirs", "late check", "batch and oils"


@dataclass(frozen=True)
class RawLoss:
    """What one cause cost, before it is compared and advised on.

    begins, ends: Unix seconds. seconds: against the reference; below 0 the cook was quicker. brief: a lid lifted for a
    stir or a sample. logged: whether a person said so.
    """

    cause: str
    begins: float
    ends: float
    seconds: float
    brief: bool = False
    logged: bool = False


def past_clear_s(done: EquivalentTime, posterior: Posterior, not_before: float) -> tuple[float, float]:
    """The expected time cooked past clear, in hindsight, s, and its variance, s2.

    done: equivalent time of the whole cook. not_before: when a sample last was not clear, Unix seconds; the paste
    cannot have been clear earlier.
    """
    end = float(done.times[-1])
    total_s, total_s2 = 0.0, 0.0
    for e in range(len(EA)):
        for f in range(len(MIXING_FLOORS)):
            clear = np.interp(NEED_S, done.equivalent_s[:, e, f], done.times, right=end)
            past_s = end - np.maximum(clear, not_before)
            total_s += float(posterior.need_weight[:, e, f] @ past_s)
            total_s2 += float(posterior.need_weight[:, e, f] @ past_s**2)
    return total_s, max(0.0, total_s2 - total_s**2)


def losses_before_clear(
    at: Floats,
    level_c: Floats,
    events: tuple[Event, ...],
    reference: ReferencePace,
    report: DisturbanceReport,
    clear: float,
) -> list[RawLoss]:
    """The time lost up to clear, shared among disturbances, warm-up, plateau and stirs, in this order.

    at: Unix seconds from lid on, ascending, shape (n,). level_c: paste temperature, degC, shape (n,). report: what
    disturbed the cook. clear: Unix seconds. The seconds add up to the integral of 1 - F M from lid on to clear.
    """
    stirs = np.array([at[0], *(e.measured for e in events if e.kind == "stirred" and at[0] < e.measured < clear)])
    disturbances = [one for one in report.disturbances if one.begins < clear]
    borders = [border for one in disturbances for border in (one.begins, one.ends)]
    cuts = np.array([border for border in (*borders, *stirs, report.warm, clear) if at[0] < border <= clear])
    grid = np.unique(np.concatenate([at[at < clear], cuts, [clear]]))
    temperature_c = np.interp(grid, at, level_c)
    middle, steps = 0.5 * (grid[1:] + grid[:-1]), np.diff(grid)
    level_there_c = 0.5 * (temperature_c[1:] + temperature_c[:-1])
    since = middle - stirs[np.searchsorted(stirs, middle, side="right") - 1]
    mixing = mixing_factor(since, reference.floor, MIXING_FADE_S) / reference.mean_mixing
    rate, own_plateau = reference.relative_rate(level_there_c), float(reference.relative_rate(report.plateau_c))
    losses: list[RawLoss] = []
    undisturbed_c = level_there_c.copy()
    owner = np.full(len(middle), -1)
    for number, disturbance in enumerate(disturbances):
        inside = (middle > disturbance.begins) & (middle < disturbance.ends)
        owner[inside] = number
        undisturbed_c[inside] = _undisturbed_c(disturbance, middle[inside], at, level_c, report.plateau_c)
    calm = reference.relative_rate(undisturbed_c)
    by_temperature = 0.5 * (1.0 + mixing) * steps
    lost_s = (calm - rate) * by_temperature
    for number, one in enumerate(disturbances):
        cost_s = float(lost_s[owner == number].sum())
        losses.append(RawLoss(one.kind, one.begins, one.ends, cost_s, one.brief, one.logged))
    rest_s = (own_plateau - calm) * by_temperature
    warming = middle < report.warm
    losses.append(RawLoss(WARM_UP, float(at[0]), min(report.warm, clear), float(rest_s[warming].sum())))
    low_s = float(((1.0 - own_plateau) * by_temperature).sum() + rest_s[~warming].sum())
    losses.append(RawLoss(PLATEAU, min(report.warm, clear), clear, low_s))
    stir_s = float(((1.0 - mixing) * 0.5 * (1.0 + rate) * steps).sum())
    longest = int(np.argmax(np.diff(np.append(stirs, clear))))
    losses.append(RawLoss(STIRS, float(stirs[longest]), float(np.append(stirs, clear)[longest + 1]), stir_s))
    return losses


def _undisturbed_c(disturbance: Disturbance, middle: Floats, at: Floats, level_c: Floats, plateau_c: float) -> Floats:
    """The temperature, degC, that the paste would have had at ``middle`` without this disturbance."""
    before, after = (float(np.interp(border, at, level_c)) for border in (disturbance.begins, disturbance.ends))
    if disturbance.brief:
        result: Floats = np.interp(middle, [disturbance.begins, disturbance.ends], [before, after])
        return result
    would_be = going_on(before, plateau_c, middle - disturbance.begins)
    if not disturbance.short_c:
        return would_be
    minutes = np.arange(len(disturbance.short_c)) * GRID_S
    put_back = np.interp(middle, at, level_c) + np.interp(middle - disturbance.turned, minutes, disturbance.short_c)
    mended: Floats = np.where(middle < disturbance.turned, would_be, put_back)
    return mended
