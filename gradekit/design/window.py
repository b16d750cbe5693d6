"""The widest window around an aim in which every heat keeps every limit.

Each side of the window grows in proportion to how hard the element is to hit (its scatter) until
a limit stops it; the sides that limit does not touch grow on. That is the widest box in the
max-min sense, and as every limit is linear in the sides, it is found without any search.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product

import numpy as np

from gradekit.design.problem import Problem
from gradekit.design.solution import Sensitivity

#: Decimals in which a melt shop writes its aims, wt%.
WINDOW_DECIMALS = {
    "C": 3, "Si": 2, "Mn": 2, "P": 3, "S": 4, "Cr": 2, "Ni": 2, "Mo": 2, "N": 3, "Cu": 2, "Nb": 3,
    "Ti": 3, "Al": 3, "V": 3, "W": 2, "Co": 2, "B": 4, "Ta": 3, "Ce": 3, "Zr": 3, "Sn": 3,
}  # fmt: skip
_MOST_CORNERS = 4096
_SHRINK = 0.9
_FAR = 10.0
_TRIES = 60


def decimals_of(variables: tuple[str, ...], own: Mapping[str, int] | None = None) -> np.ndarray:
    """Return the decimals written for each element; three where nothing is known."""
    own = own or {}
    return np.array([int(own.get(e, WINDOW_DECIMALS.get(e, 3))) for e in variables])


def grow_window(
    rows: np.ndarray, room: np.ndarray, weights: np.ndarray, most: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Grow the sides of a box until limits stop them.

    Parameters
    ----------
    rows : array, shape (limits, variables)
        Slopes of the limits.
    room : array, shape (limits,)
        What each limit leaves at the aim.
    weights : array, shape (variables,)
        How fast a side grows against the others.
    most : array
        How far down a side may go.

    Returns
    -------
    down, up : arrays; infinite where nothing stops a side.

    Examples
    --------
    >>> rows, room, step = np.array([[1.0, 2.0]]), np.array([1.0]), np.ones(2)
    >>> down, up = grow_window(rows, room, step, np.full(2, np.inf))
    >>> up.round(3).tolist(), down.tolist()
    ([0.333, 0.333], [inf, inf])
    """
    size = rows.shape[1]
    # A side down spends what the negative slopes give, a side up the positive ones.
    spend = np.hstack([np.maximum(-rows, 0.0), np.maximum(rows, 0.0)])
    speed = np.hstack([weights, weights])
    cap = np.hstack([most, np.full(size, np.inf)])
    side = np.full(2 * size, np.inf)
    free = np.ones(2 * size, bool)
    room = np.maximum(room, 0.0)
    while free.any():
        rate = spend[:, free] @ speed[free]
        held = np.where(np.isfinite(side) & ~free, side, 0.0)
        left = room - spend @ held
        with np.errstate(divide="ignore", invalid="ignore"):
            stop = np.where(rate > 1e-15, np.maximum(left, 0.0) / rate, np.inf)
            full = np.where(free, cap / speed, np.inf)
        reach = min(stop.min(initial=np.inf), full.min(initial=np.inf))
        if not np.isfinite(reach):
            break
        tight = (spend[stop <= reach * (1 + 1e-12)] > 0).any(axis=0)
        now = free & (tight | (full <= reach * (1 + 1e-12)))
        side[now] = np.minimum(reach * speed[now], cap[now])
        free &= ~now
    return side[:size], side[size:]


def widest(
    problem: Problem, at: Sensitivity, aim: np.ndarray, decimals: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return both ends of the widest written window around an aim, wt%.

    The upper end is infinite where nothing limits an element from above.

    A limit with a published error keeps of its guard band what the heats do not need,
    z (sqrt(a'Sa + s^2) - sqrt(a'Sa)); the rest is for the window. Curved limits are looked at in
    every corner or 4,096 of them, and at points between.
    """
    unit = 10.0**-decimals
    weights = np.where(problem.sd > 0, problem.sd, 2.0 * unit)
    room = (at.slack + at.guard - at.reserve) * problem.denominators(aim)
    # What the aim alone is held to, such as the residuals of scrap, no heat need keep.
    room = np.where(problem.guarded, room, np.inf)
    down, up = grow_window(at.rows, room, weights, aim)
    # Of a content that is only aimed at, a limit far beyond what heats do says nothing.
    fixed = problem.low == problem.high
    up = np.where(fixed & (up > _FAR * np.maximum(weights, aim)), np.inf, up)
    for _ in range(_TRIES):
        low, high = _written(aim, down, up, unit, decimals)
        short = _short(problem, low, high, at.reserve)
        if not short.any():
            return low, high
        down, up = down * np.where(short, _SHRINK, 1), up * np.where(short, _SHRINK, 1)
    return aim, aim


def written(values: np.ndarray, decimals: np.ndarray) -> np.ndarray:
    """Return values in the decimals of each element, without the noise of binary fractions."""
    pairs = zip(values.tolist(), decimals.tolist(), strict=True)
    return np.array([round(v, d) if np.isfinite(v) else v for v, d in pairs])


def _written(aim, down, up, unit, decimals) -> tuple[np.ndarray, np.ndarray]:
    """Round inward to what is written; the aim itself is always inside."""
    low = np.where(np.isfinite(down), np.ceil((aim - down) / unit - 1e-9) * unit, 0.0)
    high = np.floor((aim + up) / unit + 1e-9) * unit
    return (
        np.minimum(written(np.maximum(low, 0.0), decimals), aim),
        np.maximum(written(high, decimals), aim),
    )


def _short(problem: Problem, low: np.ndarray, high: np.ndarray, keep: np.ndarray) -> np.ndarray:
    """Tell which elements take part in a curved limit that fails somewhere in the box."""
    short = np.zeros(len(low), bool)
    if not problem.curved:
        return short
    constraints = [problem.constraints[i] for i in problem.curved]
    points = _points(problem, constraints, low, np.where(np.isfinite(high), high, low))
    values = problem.raw([d.quantity for d in constraints], points)
    for constraint, value, back in zip(constraints, values, keep[problem.curved], strict=True):
        slack = constraint.sense * (constraint.bound - value) - back
        if not (slack >= -1e-9 * max(1.0, abs(constraint.bound))).all():
            short |= np.isin(problem.variables, constraint.quantity.inputs)
    return short


def _points(problem: Problem, constraints: list, low: np.ndarray, high: np.ndarray) -> np.ndarray:
    rng = np.random.default_rng(0)
    used = np.isin(problem.variables, [n for d in constraints for n in d.quantity.inputs])
    at = np.flatnonzero(used & (high > low))
    if 2 ** len(at) <= _MOST_CORNERS:
        ends = np.array(list(product([0.0, 1.0], repeat=len(at))))
    else:
        ends = rng.integers(0, 2, (_MOST_CORNERS, len(at))).astype(float)
    between = rng.random((_MOST_CORNERS // 4, len(at)))
    share = np.vstack([ends.reshape(-1, len(at)), between])
    points = np.tile((low + high) / 2, (len(share), 1))
    points[:, at] = low[at] + share * (high - low)[at]
    return points
