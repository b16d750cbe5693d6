"""The linear programme: HiGHS finds the composition, the optimality conditions give the prices.

`milp` without integers is the shortest public way to HiGHS. It returns no multipliers, so these
come from the conditions themselves: at the optimum the objective is a non-negative sum of the
normals of the limits that bind.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

__all__ = ["Answer", "minimise", "multipliers"]

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
    """Minimise cost @ x with rows @ x <= ends and low <= x <= high.

    Rows of one variable are laid on its bounds, which is what they are.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    low, high = low.copy(), high.copy()
    filled = rows != 0
    count = filled.sum(axis=1)
    single = np.flatnonzero(count == 1)
    empty = count == 0
    if (empty & (ends < -_BIND)).any():
        return Answer(False, np.full(len(cost), np.nan), np.nan)
    if single.size:
        at = filled[single].argmax(axis=1)
        slope = rows[single, at]
        limit = ends[single] / slope
        up = slope > 0
        np.minimum.at(high, at[up], limit[up])
        np.maximum.at(low, at[~up], limit[~up])
    if (low > high + _BIND).any():
        return Answer(False, np.full(len(cost), np.nan), np.nan)
    high = np.maximum(low, high)
    general = count > 1
    result = milp(
        cost,
        integrality=integrality,
        bounds=Bounds(low, high),
        constraints=LinearConstraint(rows[general], -np.inf, ends[general])
        if general.any()
        else (),
    )
    if result.x is None:
        return Answer(False, np.full(len(cost), np.nan), np.nan)
    return Answer(True, result.x, float(result.fun))


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
