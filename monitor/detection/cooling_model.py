"""Whether a fall of temperature looks like an open lid or like lost heat: a model of two lumped bodies fitted to it.

The wall and the paste each have one temperature (lumped capacitance; Incropera and DeWitt, Fundamentals of Heat and
Mass Transfer, chapter 5). Without heat the wall cools first and draws the paste after it, so the gap from paste to
wall closes and the paste's fall begins rounded. Under an open lid the paste itself loses heat as steam, in proportion
to the vapour pressure over it, so the gap opens, the fall begins sharply, and it eases as the paste cools. Both are
fitted over a range of household cookers and of moments; the ratio of their likelihoods is the evidence.
"""

from functools import lru_cache

import numpy as np

from monitor.model import FALL_STEP_S, Floats

STEP_S = FALL_STEP_S
# Rates of a household cooker, per second: wall to paste as the paste feels it, the same as the wall feels it, the loss.
_TO_PASTE = 1.0 / np.array([250.0, 450.0])
_TO_WALL = 1.0 / np.array([90.0, 200.0, 450.0, 1000.0])
_LOSS = 1.0 / np.array([1500.0, 3200.0])
# The cause may have set in this far from where the fall was seen to begin, and ended this far from where the fall was
# seen to turn. While the paste falls, the cause may have ended without the end having shown yet.
_ONSETS_S = np.array([-240.0, -180.0, -120.0, -60.0, 0.0, 60.0, 120.0, 210.0, 330.0, 450.0, 600.0])
_TURNS_S = np.arange(-240.0, 61.0, 60.0)
_UNSEEN_S = np.array([np.inf, -60.0, -180.0, -300.0, -480.0])
_SUBSTEPS = 2
# Water's vapour pressure grows by this share per degC at cook temperatures: steam tables have 0.037 from 90 to 95 degC
# and 0.036 from 95 to 100.
STEAM_PER_C = 0.036
# What a fall may cost in the end, degC: from a dial turned down a little to all of the heat in a cold room.
LEAST_C, MOST_C = 5.0, 95.0
# Error of the fitted curves (degC, one sigma), because a cooker is more than two bodies; and the number of bins for
# which such an error lasts, so that bins tell less than their number (set on virtual kitchens).
PASTE_OFF_C, WALL_OFF_C = 0.2, 0.6
ALIKE_BINS = 6.0
# A trend that the paste had before goes on, degC an hour (one sigma).
TREND_C_H = 10.0
# A logged stir or look cools the paste by this (degC, one sigma) within the second value (s); it fades with the third.
STIR_C, STIR_TAKES_S, STIR_FADES_S = 2.0, 90.0, 1500.0
# At least this much of a fall must be seen; a bin further off than this many sigmas counts as that far.
LEAST_SEEN_S, FAR_SIGMAS = 120.0, 3.0


def log_odds_of_lid(
    paste_c: Floats, wall_c: Floats | None, begins: int, turned: int | None, stirs: tuple[int, ...] = ()
) -> float:
    """The log likelihood ratio (natural logarithm) of an open lid against lost heat; 0 where neither can be fitted.

    paste_c: means on a grid of ``STEP_S``, degC, shape (n,). wall_c: the same of the wall, or None without a probe
    there. begins, turned: places in them where the fall was seen to begin and to turn; turned is None while the paste
    falls. stirs: places where the person is known to have stirred or looked.

    Each likelihood is the mean over rates, onsets and ends, with the size of the fall fitted and offset, trend and
    stirs integrated out as normal. The rates are those of household cookers of 2 to 8 litres under a lid; the model
    says nothing of an uncovered or a fan-cooled pot. Source: lumped capacitance as above; the ranges are judgement, set
    on virtual kitchens.

    >>> falling_c = np.concatenate([np.full(20, 93.0), 93.0 - 0.15 * np.arange(30.0)])
    >>> bool(np.isfinite(log_odds_of_lid(falling_c, None, 19, None)))
    True
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
    """The logarithm of the mean likelihood over all cookers and moments, of an open lid or else of lost heat."""
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
    nuisance, prior = _nuisance(at, STEP_S * (np.array(stirs) - begins), [off_c for _, off_c in curves])
    return _marginal(shape, seen, nuisance, prior)


def _nuisance(at: Floats, stirs_s: Floats, offs_c: list[float]) -> tuple[Floats, Floats]:
    """Whatever else bends the curves (offset, trend, stirs), shape (n, m), and the precision of each size, shape (m,).

    at: s, shape (n,). stirs_s: s. offs_c: error of each curve, degC.
    """
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


def _marginal(shape: Floats, seen: Floats, nuisance: Floats, prior: Floats) -> float:
    """The logarithm of the mean of exp(-misfit / 2) over the shapes, each fitted together with the nuisance terms.

    shape: (k, n); seen: (n,); nuisance: (n, m); all in sigmas. prior: precision of the nuisance terms' sizes, (m,).
    """
    # The nuisance terms are the same for every shape, so they are taken out once.
    normal = nuisance.T @ nuisance / ALIKE_BINS + np.diag(prior)
    solved = np.linalg.solve(normal, nuisance.T / ALIKE_BINS)
    shape_left = shape - (shape @ solved.T) @ nuisance.T
    seen_left = seen - nuisance @ (solved @ seen)
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
    """Response of paste and wall to a loss from ``on`` to ``off``, degC per degC that it would cost in the end.

    at: seconds on an even grid, shape (n,). to_paste: rate of wall to paste as the paste feels it; to_wall: as the wall
    feels it; loss: of both to the room; 1/s, shape (k,). on, off: s, shape (k,). steam: for an open lid, evaporation at
    each moment relative to that at the begin, shape (n,); None where the heat is gone. Returns the paste and the wall,
    shapes (k, n).

        dP/dt = to_paste (W - P) - a,    dW/dt = -to_wall (W - P) - whole W - b,

    with P, W the responses, whole = loss (1 + to_wall/to_paste), and the loss a (lid) or b (heat) between on and off.
    Explicit Euler with half steps of the grid, stable for rates below 1/15 s.
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
            lost = ((now >= on) & (now < off)) * whole
            flow = wall - paste
            above, below = (0.0, lost) if steam is None else (lost * to_paste / to_wall * steam[j], 0.0)
            wall, paste = (
                wall + step_s * (-to_wall * flow - whole * wall - below),
                paste + step_s * (to_paste * flow - above),
            )
    return pastes, walls
