"""How far a fall of temperature looks like an open lid, and how far like lost heat: two lumped bodies fitted to it.

The wall and the paste each have one temperature (lumped capacitance; Incropera and DeWitt, Fundamentals of Heat and
Mass Transfer, chapter 5). Without heat the wall cools first and draws the paste after it, so the gap from paste to
wall closes and the paste's fall begins rounded. Under an open lid the paste itself loses heat as steam, in proportion
to the vapour pressure over it, so the gap opens, the fall begins sharply, and it eases as the paste cools. Both are
fitted over a range of household cookers and of moments; the likelihoods say how far each is believed.
"""

from functools import lru_cache

import numpy as np

from monitor.model import Floats

STEP_S = 30.0
# Rates of a household cooker, per second: wall to paste as the paste feels it, the same as the wall feels it, the loss.
_TO_PASTE = 1.0 / np.array([250.0, 450.0])
_TO_WALL = 1.0 / np.array([90.0, 200.0, 450.0, 1000.0])
_LOSS = 1.0 / np.array([1500.0, 3200.0])
# The moment may lie this far from where the fall was seen to begin, and its end from where it was seen to turn.
# While it falls, the end may have come without having shown yet.
_ONSETS_S = np.array([-240.0, -180.0, -120.0, -60.0, 0.0, 60.0, 120.0, 210.0, 330.0, 450.0, 600.0])
_TURNS_S = np.arange(-240.0, 61.0, 60.0)
_UNSEEN_S = np.array([np.inf, -60.0, -180.0, -300.0, -480.0])
_SUBSTEPS = 2
# Water's vapour pressure at cook temperatures grows by this per degC (Magnus form of Alduchov and Eskridge 1996).
STEAM_PER_C = 0.036
# What a fall may take in the end, degC: a dial turned down a little, to all of the heat in a cold room.
LEAST_C, MOST_C = 5.0, 95.0
# How far a fitted curve may be off (degC, one sigma) where a model of two bodies is no cooker; and for how many bins
# such an error lasts, so that bins tell less than their number (set on virtual kitchens).
PASTE_OFF_C, WALL_OFF_C = 0.2, 0.6
ALIKE_BINS = 6.0
# A trend that the paste had before goes on, degC an hour (one sigma).
TREND_C_H = 10.0
# A stir or a look that was logged cools the paste by so much (one sigma) in so long, which fades.
STIR_C, STIR_TAKES_S, STIR_FADES_S = 2.0, 90.0, 1500.0
# So much of a fall must be seen, and a bin further off than this counts as this far.
LEAST_SEEN_S, FAR_SIGMAS = 120.0, 3.0


def log_odds_of_lid(
    paste_c: Floats, wall_c: Floats | None, begins: int, turned: int | None, stirs: tuple[int, ...] = ()
) -> float:
    """The logarithm of how much likelier an open lid is than lost heat, both as likely beforehand.

    paste_c, wall_c: means on a grid of ``STEP_S``, shape (n,). begins, turned: where in them the fall was seen to
    begin and to turn; turned is None while it falls. stirs: where the person is known to have stirred or looked. 0
    where neither can be fitted.
    """
    return _log_odds(paste_c.tobytes(), b"" if wall_c is None else wall_c.tobytes(), begins, turned, stirs)


@lru_cache(maxsize=512)
def _log_odds(paste: bytes, wall: bytes, begins: int, turned: int | None, stirs: tuple[int, ...] = ()) -> float:
    # The same stretch is asked for again at every look while a fall lasts.
    paste_c = np.frombuffer(paste)
    wall_c = np.frombuffer(wall) if wall else None
    lid, heat = (_log_likelihood(paste_c, wall_c, begins, turned, stirs, lid) for lid in (True, False))
    return lid - heat if np.isfinite(lid) or np.isfinite(heat) else 0.0


def _log_likelihood(
    paste_c: Floats, wall_c: Floats | None, begins: int, turned: int | None, stirs: tuple[int, ...], lid: bool
) -> float:
    """The mean likelihood, as a logarithm, over all cookers and moments."""
    at: Floats = STEP_S * (np.arange(len(paste_c), dtype=np.float64) - begins)
    turns = at[-1] + _UNSEEN_S if turned is None else STEP_S * (turned - begins) + _TURNS_S
    axes = np.meshgrid(_TO_PASTE, _TO_WALL, _LOSS, _ONSETS_S, turns, indexing="ij")
    to_paste, to_wall, loss, on, off = (axis.ravel() for axis in axes)
    possible = (on <= at[-1] - LEAST_SEEN_S) & (off >= on + LEAST_SEEN_S)
    to_paste, to_wall, loss, on, off = (axis[possible] for axis in (to_paste, to_wall, loss, on, off))
    if not len(on):
        return -np.inf
    steam = np.exp(STEAM_PER_C * (paste_c - paste_c[begins])) if lid else None
    shapes = responses(at, to_paste, to_wall, loss, on, off, steam)
    curves = [(paste_c, PASTE_OFF_C)] if wall_c is None else [(paste_c, PASTE_OFF_C), (wall_c, WALL_OFF_C)]
    shape = np.hstack([answer / off_c for answer, (_, off_c) in zip(shapes, curves, strict=False)])
    seen = np.concatenate([(value - value[begins]) / off_c for value, off_c in curves])
    beside, prior = _beside(at, STEP_S * (np.array(stirs) - begins), [off_c for _, off_c in curves])
    return _marginal(shape, seen, beside, prior)


def _beside(at: Floats, stirs_s: Floats, offs_c: list[float]) -> tuple[Floats, Floats]:
    """What else bends the curves, shape (n, m), and the precision of each one's size, shape (m,)."""
    count = len(at)
    columns, prior = [], []
    for i, off_c in enumerate(offs_c):
        rows = slice(i * count, (i + 1) * count)
        shapes = [(np.ones(count), 1e3), (at / 3600.0, TREND_C_H)]
        for since in (at - moment for moment in stirs_s):
            fades = np.exp(-np.maximum(since, 0.0) / STIR_FADES_S)
            shapes.append((np.clip(since / STIR_TAKES_S + 1.0, 0.0, 1.0) * fades, STIR_C))
        for values, size in shapes:
            column = np.zeros(count * len(offs_c))
            column[rows] = values / off_c
            columns.append(column)
            prior.append(1.0 / size**2)
    return np.stack(columns, axis=1), np.array(prior)


def _marginal(shape: Floats, seen: Floats, beside: Floats, prior: Floats) -> float:
    """The logarithm of the mean of exp(-misfit / 2) over the shapes, each fitted with what bends the curves beside.

    shape: (k, n); seen: (n,); both in sigmas.
    """
    # What lies beside is the same for every shape, so it is taken out once.
    normal = beside.T @ beside / ALIKE_BINS + np.diag(prior)
    take = np.linalg.solve(normal, beside.T / ALIKE_BINS)
    shape_left = shape - (shape @ take.T) @ beside.T
    seen_left = seen - beside @ (take @ seen)
    size = np.einsum("kn,kn->k", shape, shape_left)
    amount_c = (shape_left @ seen) / np.maximum(size, 1e-12)
    left = seen_left[None, :] - amount_c[:, None] * shape_left
    # A bin far off the curve is a spoon or a lifted lid, and counts as no more than three sigmas.
    misfit = np.minimum(left**2, FAR_SIGMAS**2).sum(axis=1) / ALIKE_BINS
    logs = np.where((amount_c > LEAST_C) & (amount_c < MOST_C), -0.5 * misfit, -np.inf)
    highest = float(logs.max())
    if not np.isfinite(highest):
        return -np.inf
    return highest + float(np.log(np.exp(logs - highest).mean()))


def responses(
    at: Floats, to_paste: Floats, to_wall: Floats, loss: Floats, on: Floats, off: Floats, steam: Floats | None
) -> tuple[Floats, Floats]:
    """How paste and wall answer from ``on`` to ``off``, per degC that it would cost the paste in the end.

    at: seconds on an even grid, shape (n,); the rates (1/s) and moments (s): shape (k,). steam: for an open lid, how
    strongly the paste steams at each moment relative to the begin, shape (n,); None where the heat is gone. Returns
    degC of paste and of wall, shapes (k, n).
    """
    step_s = (at[1] - at[0]) / _SUBSTEPS
    # The loss of both bodies together as the wall feels it, through which nearly all of the heat comes.
    whole = loss * (1.0 + to_wall / to_paste)
    paste, wall = np.zeros_like(to_paste), np.zeros_like(to_paste)
    pastes, walls = np.empty((len(paste), len(at))), np.empty((len(paste), len(at)))
    for j, moment in enumerate(at):
        pastes[:, j], walls[:, j] = paste, wall
        for sub in range(_SUBSTEPS):
            now = moment + sub * step_s
            taken = ((now >= on) & (now < off)) * whole
            flow = wall - paste
            above, below = (0.0, taken) if steam is None else (taken * to_paste / to_wall * steam[j], 0.0)
            wall, paste = (
                wall + step_s * (-to_wall * flow - whole * wall - below),
                paste + step_s * (to_paste * flow - above),
            )
    return pastes, walls
