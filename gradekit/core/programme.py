"""Linear programmes: the optimum, what each constraint costs, and which cannot be kept together.

HiGHS finds the optimum. `milp` without integers is the shortest public way to it; it returns no
multipliers, so these come from the optimality conditions, which hold for a programme laid flat at
the optimum of a nonlinear problem as well: there the objective is a non-negative sum of the normals
of the constraints that bind.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

__all__ = [
    "BINDS",
    "Optimum",
    "Relaxation",
    "as_bounds",
    "infeasible_set",
    "marginals",
    "minimise",
    "relax",
]

#: A constraint binds where its slack is below this, relative to the size of its row: ten times
#: what HiGHS leaves of a constraint that it takes for binding (1e-7 is its feasibility tolerance,
#: 1e-9 what it usually reaches).
BINDS = 1e-7
# Of the price of a unit of relaxation: below this a constraint takes no part in a conflict. The
# multipliers come out to some 1e-12.
_BLAMED = 1e-9
# Far beyond what any relaxation needs, in units of its scale; it keeps the programme bounded.
_MOST = 1e6


@dataclass(frozen=True)
class Optimum:
    """The best x of a linear programme, NaN where no x keeps all constraints."""

    feasible: bool
    x: np.ndarray
    value: float


def minimise(
    cost: np.ndarray, rows: np.ndarray, ends: np.ndarray, low: np.ndarray, high: np.ndarray
) -> Optimum:
    """Minimise cost @ x with rows @ x <= ends and low <= x <= high.

    Examples
    --------
    >>> minimise(np.array([1.0, 3.0]), np.array([[-1.0, -2.0]]), np.array([-4.0]),
    ...          np.zeros(2), np.array([3.0, 9.0])).x.tolist()
    [3.0, 0.5]
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    nothing = Optimum(False, np.full(len(cost), np.nan), np.nan)
    rows, ends, low, high = as_bounds(rows, ends, low, high)
    if (low > high + BINDS).any():
        return nothing
    high = np.maximum(low, high)
    result = milp(
        cost,
        bounds=Bounds(low, high),
        constraints=LinearConstraint(rows, -np.inf, ends) if len(rows) else (),
    )
    return nothing if result.x is None else Optimum(True, result.x, float(result.fun))


def as_bounds(
    rows: np.ndarray, ends: np.ndarray, low: np.ndarray, high: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Turn single-variable constraints into bounds, which may cross."""
    filled = rows != 0
    count = filled.sum(axis=1)
    if (count > 1).all():
        return rows, ends, low, high
    single = np.flatnonzero(count == 1)
    low, high = low.copy(), high.copy()
    at = filled[single].argmax(axis=1)
    slope = rows[single, at]
    limit = ends[single] / slope
    up = slope > 0
    np.minimum.at(high, at[up], limit[up])
    np.maximum.at(low, at[~up], limit[~up])
    keep = (count > 1) | ((count == 0) & (ends < -BINDS))
    return rows[keep], ends[keep], low, high


def marginals(
    cost: np.ndarray,
    rows: np.ndarray,
    slack: np.ndarray,
    low: np.ndarray,
    high: np.ndarray,
    x: np.ndarray,
) -> tuple[np.ndarray, float]:
    """Return the shadow price of each row at the optimum x, and how far x is from optimal.

    Returns
    -------
    (array, float)
        Non-negative, one a row: by how much the objective falls if the end of the row rises by
        one. The residual of the optimality conditions is relative to the size of the objective.
    """
    from scipy.optimize import nnls

    size = np.abs(rows).sum(axis=1) + 1e-300
    binding = np.flatnonzero(slack <= BINDS * np.maximum(1.0, size))
    identity = np.eye(len(x))
    span = np.maximum(1.0, np.abs(x))
    normals = np.vstack(
        [rows[binding], identity[x >= high - BINDS * span], -identity[x <= low + BINDS * span]]
    )
    if not len(normals) or not np.any(cost):
        return np.zeros(len(rows)), float(bool(np.any(cost)))
    scale = np.linalg.norm(normals, axis=1)
    weights, residual = nnls((normals / scale[:, None]).T, -cost)
    prices = np.zeros(len(rows))
    prices[binding] = (weights / scale)[: len(binding)]
    return prices, float(residual / np.linalg.norm(cost))


@dataclass(frozen=True)
class Relaxation:
    """The least that constraints must give way by.

    `total` is infinite where giving way does not help; `amounts`: one entry a kind of relaxation;
    `blamed`: rows that give way or hold against it, which already exclude each other.
    """

    total: float
    amounts: np.ndarray
    x: np.ndarray
    blamed: np.ndarray


def relax(
    rows: np.ndarray, ends: np.ndarray, low: np.ndarray, high: np.ndarray, give: np.ndarray
) -> Relaxation:
    """Let constraints give way as little as possible.

    Parameters
    ----------
    rows, ends, low, high
        As for `minimise`.
    give : array, shape (rows, kinds)
        By how much each row opens for one unit of each kind of relaxation.
    """
    (count, size), kinds = rows.shape, give.shape[1]
    wide = np.hstack([rows, -give])
    cost = np.append(np.zeros(size), np.ones(kinds))
    least, most = np.append(low, np.zeros(kinds)), np.append(high, np.full(kinds, _MOST))
    best = minimise(cost, wide, ends, least, most)
    if not best.feasible:
        return Relaxation(np.inf, np.zeros(kinds), np.zeros(size), np.ones(count, bool))
    prices, _ = marginals(cost, wide, ends - wide @ best.x, least, most, best.x)
    blamed = prices * give.max(axis=1, initial=0.0) > _BLAMED
    return Relaxation(best.value, best.x[size:], best.x[:size], blamed)


def infeasible_set(members: Iterable[int], feasible: Callable[[list[int]], bool]) -> list[int]:
    """Return a smallest set that cannot be kept together (the deletion filter).

    Whatever can go while the rest still excludes each other is no member.

    Examples
    --------
    >>> infeasible_set([1, 2, 3, 4], lambda kept: not {2, 4} <= set(kept))
    [2, 4]
    """
    kept = list(members)
    for member in list(kept):
        rest = [m for m in kept if m != member]
        if not feasible(rest):
            kept = rest
    return kept
