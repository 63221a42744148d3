"""Whether the lid was off or the heat was gone, from the shape of the paste's fall alone.

Two bodies, the wall and the paste: without heat the wall cools first and draws the paste after it, so the fall and
its turn are rounded; without the lid the paste itself loses heat, so both are sharp. Both are fitted over a range of
cookers, and the better fit is believed.
"""

import numpy as np

from monitor.history import Floats

STEP_S = 60.0
LEAD = 10
AFTER = 40
# Rates of a household cooker, per second: wall to paste seen by the paste, the same seen by the wall, and the loss.
_PASTE = 1.0 / np.array([300.0, 600.0])
_WALL = 1.0 / np.array([90.0, 250.0, 600.0, 1300.0])
_LOSS = 1.0 / np.array([1500.0, 2400.0, 4000.0])
_SHIFTS = np.array([-240.0, -120.0, 0.0, 120.0, 240.0])
_SUBSTEPS = 4
ROOM_C = 21.0
# Share of the heat that a spell takes away: all of it, or what a dial can.
LEAST_SHARE, MOST_SHARE = 0.08, 1.1


def lid_rather_than_heat(grid: Floats, level: Floats, fall: tuple[int, int, int], plateau_c: float) -> bool:
    """Whether a fall looks like a lid off. grid: Unix seconds by the minute; level: degC, shape (n,).

    fall: places of its begin, its turn and its end.
    """
    begins, turned, back = fall
    first, last = max(0, begins - LEAD), min(len(grid), max(back, turned + 2), turned + AFTER)
    at, seen = grid[first:last] - grid[begins], level[first:last]
    turned_s = float(grid[turned] - grid[begins])
    errors = [_best_error(at, seen, turned_s, plateau_c, lid) for lid in (True, False)]
    return errors[0] < errors[1]


def _best_error(at: Floats, seen: Floats, turned_s: float, plateau_c: float, lid: bool) -> float:
    """The least squared misfit of this kind of spell over all cookers and moments, degC squared."""
    paste, wall, loss, on, off = (
        axis.ravel()
        for axis in np.meshgrid(_PASTE, _WALL, _LOSS, _SHIFTS, _SHIFTS - (0.0 if lid else 60.0), indexing="ij")
    )
    shape = _response(at, paste, wall, loss, on, turned_s + off, lid)
    # Beside the spell the paste goes on towards its plateau as it would have.
    calm = np.exp(-(at - at[0])[None, :] * loss[:, None])
    columns = np.stack([shape, np.ones_like(shape), calm], axis=2)
    normal = np.einsum("kni,knj->kij", columns, columns) + 1e-6 * np.eye(3)
    aim = columns.transpose(0, 2, 1) @ seen
    fitted = np.linalg.solve(normal, aim[:, :, None])
    misfit = ((columns @ fitted)[:, :, 0] - seen[None, :]) ** 2
    amount = fitted[:, 0, 0]
    # A whole loss of heat leads to the room; none leads below it, and a lid takes no more than steam can.
    possible = (amount > LEAST_SHARE * (plateau_c - ROOM_C)) & (amount < MOST_SHARE * (plateau_c - ROOM_C))
    errors = np.where(possible, misfit.mean(axis=1), np.inf)
    return float(errors.min())


def _response(at: Floats, paste: Floats, wall: Floats, loss: Floats, on: Floats, off: Floats, lid: bool) -> Floats:
    """How the paste's temperature answers, shape (k, n), per degree that the spell would cost in the end."""
    step_s = STEP_S / _SUBSTEPS
    # The loss of both bodies together, as seen by the wall, through which nearly all of the heat comes.
    whole = loss * (1.0 + wall / paste)
    paste_c, wall_c = np.zeros_like(paste), np.zeros_like(paste)
    rows = np.empty((len(paste), len(at)))
    drive = whole if not lid else whole * paste / wall
    for j, moment in enumerate(at):
        rows[:, j] = paste_c
        for sub in range(_SUBSTEPS):
            now = moment + sub * step_s
            active = ((now >= on) & (now < off)).astype(np.float64) * drive
            flow = wall_c - paste_c
            paste_new = paste_c + step_s * (paste * flow - (active if lid else 0.0))
            wall_c = wall_c + step_s * (-wall * flow - whole * wall_c - (0.0 if lid else active))
            paste_c = paste_new
    return rows
