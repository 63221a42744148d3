"""Whether the lid was off or the heat was gone, from the shape of the paste's fall alone.

Two bodies, the wall and the paste: without heat the wall cools first and draws the paste after it, so the fall and
its turn are rounded; without the lid the paste itself loses heat as steam, so both are sharp, and the fall eases as
the paste cools. Both are fitted over a range of cookers, and the better fit is believed.
"""

import math

import numpy as np

from monitor.history import Floats

STEP_S = 30.0
BEFORE_S, AFTER_S = 600.0, 2400.0
# Rates of a household cooker, per second: wall to paste seen by the paste, the same seen by the wall, and the loss.
_PASTE = 1.0 / np.array([300.0, 500.0])
_WALL = 1.0 / np.array([90.0, 250.0, 600.0, 1300.0])
_LOSS = 1.0 / np.array([1500.0, 2400.0, 4000.0])
# The turn is seen well; the begin may lie behind the dip of an earlier stir.
_SHIFTS = np.arange(-240.0, 241.0, 80.0)
_LATER = np.array([-240.0, -160.0, -80.0, 0.0, 80.0, 160.0, 240.0, 420.0, 660.0, 960.0])
_SUBSTEPS = 2
ROOM_C = 21.0
# Share of the heat that a spell takes away: all of it, or what a dial can.
LEAST_SHARE, MOST_SHARE = 0.08, 1.1
# Water's vapour pressure at cook temperatures grows by this per degC (steam tables, from memory: 1.43 times in 10).
STEAM_PER_C = 0.036
# An open crock settles above this; below it only the heat can be gone (judgement).
COLDEST_OPEN_C = 64.0
# Blocks further off than this are a lid lifted or a spoon, not the curve.
FAR_C = 0.8


def lid_rather_than_heat(
    times: Floats, temperatures_c: Floats, begins: float, turned: float, back: float, plateau_c: float
) -> bool:
    """Whether a fall looks like a lid off.

    times (Unix seconds), temperatures_c: block medians, shape (n,). begins, turned, back: Unix seconds of the fall.
    """
    last = min(max(back, turned + 300.0), turned + AFTER_S, float(times[-1]))
    at = np.arange(max(begins - BEFORE_S, float(times[0])), last, STEP_S)
    seen = np.interp(at, times, temperatures_c)
    if float(seen.min()) < COLDEST_OPEN_C:
        return False
    errors = [_best_error(at - begins, seen, turned - begins, plateau_c, lid) for lid in (True, False)]
    return errors[0] < errors[1]


def _best_error(at: Floats, seen: Floats, turned_s: float, plateau_c: float, lid: bool) -> float:
    """The least misfit of this kind of spell over all cookers and moments, degC squared."""
    # Without heat the paste turns a little after the heat is back.
    delay_s = 0.0 if lid else 60.0
    paste, wall, loss, on, off = (
        axis.ravel() for axis in np.meshgrid(_PASTE, _WALL, _LOSS, _LATER, turned_s + _SHIFTS - delay_s, indexing="ij")
    )
    steam = np.exp(STEAM_PER_C * (seen - float(np.interp(0.0, at, seen))))
    shape = _response(at, paste, wall, loss, on, off, steam if lid else None)
    # Beside the spell the paste goes on towards its plateau as it would have.
    calm = np.exp(-(at - at[0])[None, :] * loss[:, None])
    columns = np.stack([shape, np.ones_like(shape), calm], axis=2)
    turned = columns.transpose(0, 2, 1)
    normal = turned @ columns + 1e-6 * np.eye(3)
    fitted = np.linalg.solve(normal, (turned @ seen)[:, :, None])
    misfit = np.minimum(((columns @ fitted)[:, :, 0] - seen[None, :]) ** 2, FAR_C**2)
    amount = fitted[:, 0, 0]
    # A whole loss of heat leads to the room; none leads below it, and a lid takes no more than steam can.
    least, most = LEAST_SHARE * (plateau_c - ROOM_C), MOST_SHARE * (plateau_c - ROOM_C)
    errors = np.where((amount > least) & (amount < most), misfit.mean(axis=1), math.inf)
    return float(errors.min())


def _response(
    at: Floats, paste: Floats, wall: Floats, loss: Floats, on: Floats, off: Floats, steam: Floats | None
) -> Floats:
    """How the paste's temperature answers, shape (k, n), per degree that the spell would cost in the end.

    steam: for a lid off, how strongly the paste steams at each moment, shape (n,); None where the heat is gone.
    """
    step_s = STEP_S / _SUBSTEPS
    # The loss of both bodies together, as seen by the wall, through which nearly all of the heat comes.
    whole = loss * (1.0 + wall / paste)
    paste_c, wall_c = np.zeros_like(paste), np.zeros_like(paste)
    rows = np.empty((len(paste), len(at)))
    for j, moment in enumerate(at):
        rows[:, j] = paste_c
        for sub in range(_SUBSTEPS):
            now = moment + sub * step_s
            active = ((now >= on) & (now < off)) * whole
            flow = wall_c - paste_c
            if steam is None:
                taken_above, taken_below = np.zeros_like(active), active
            else:
                taken_above, taken_below = active * paste / wall * steam[j], np.zeros_like(active)
            wall_next = wall_c + step_s * (-wall * flow - whole * wall_c - taken_below)
            paste_c = paste_c + step_s * (paste * flow - taken_above)
            wall_c = wall_next
    return rows
