"""The linear programme: HiGHS finds the composition, the optimality conditions give the prices.

`milp` without integers is the shortest public way to HiGHS. It returns no multipliers, so these
come from the conditions themselves: at the optimum the objective is a non-negative sum of the
normals of the limits that bind.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

__all__ = ["Answer", "fold", "minimise", "multipliers"]

_BIND = 1e-7


@dataclass
class Answer:
    """What the linear programme says."""

    feasible: bool
    x: np.ndarray
    value: float


def minimise(
    cost: np.ndarray,
    rows: np.ndarray,
    ends: np.ndarray,
    low: np.ndarray,
    high: np.ndarray,
    integrality: np.ndarray | None = None,
) -> Answer:
    """Minimise cost @ x with rows @ x <= ends and low <= x <= high."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    rows, ends, low, high = fold(rows, ends, low, high)
    nothing = Answer(False, np.full(len(cost), np.nan), np.nan)
    if rows is None:
        return nothing
    result = milp(
        cost,
        integrality=integrality,
        bounds=Bounds(low, high),
        constraints=LinearConstraint(rows, -np.inf, ends) if len(rows) else (),
    )
    return nothing if result.x is None else Answer(True, result.x, float(result.fun))


def fold(rows: np.ndarray, ends: np.ndarray, low: np.ndarray, high: np.ndarray) -> tuple:
    """Lay rows of one variable on its bounds, which is what they are.

    Returns
    -------
    rows, ends, low, high
        The rows are None where nothing can be kept: an end below what is fixed, bounds crossed.
    """
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
    general = count > 1
    if (ends[count == 0] < -_BIND).any() or (low > high + _BIND).any():
        return None, ends, low, high
    return rows[general], ends[general], low, np.maximum(low, high)


def multipliers(
    cost: np.ndarray,
    rows: np.ndarray,
    slack: np.ndarray,
    low: np.ndarray,
    high: np.ndarray,
    x: np.ndarray,
) -> tuple[np.ndarray, float]:
    """Return what each row pays at the optimum x, and how far the conditions are from kept.

    Returns
    -------
    (array, float)
        Non-negative multipliers, one a row: by how much the objective falls if the end of the row
        rises by one. The residual is relative to the size of the objective.
    """
    from scipy.optimize import nnls

    size = np.abs(rows).sum(axis=1) + 1e-300
    binding = np.flatnonzero(slack <= _BIND * np.maximum(1.0, size))
    identity = np.eye(len(x))
    span = np.maximum(1.0, np.abs(x))
    normals = np.vstack(
        [rows[binding], identity[x >= high - _BIND * span], -identity[x <= low + _BIND * span]]
    )
    if not len(normals) or not np.any(cost):
        return np.zeros(len(rows)), float(bool(np.any(cost)))
    scale = np.linalg.norm(normals, axis=1)
    found, residual = nnls((normals / scale[:, None]).T, -cost)
    prices = np.zeros(len(rows))
    prices[binding] = (found / scale)[: len(binding)]
    return prices, float(residual / np.linalg.norm(cost))
