"""Linear programmes: the optimum, what each constraint costs, and which cannot be kept together.

HiGHS finds the optimum. `milp` without integers is the shortest public way to it; it returns no
multipliers, so these come from the optimality conditions, which hold for a programme laid flat at
the optimum of a nonlinear problem as well: there the objective is a non-negative sum of the normals
of the constraints that bind.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

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


@dataclass(frozen=True, eq=False)
class BrokenLine:
    """A convex broken line of one variable: the highest of straight lines.

    Attributes
    ----------
    slopes, constants : arrays, shape (pieces,)
        Each piece is slope · x + constant; the slopes rise.

    Examples
    --------
    >>> line = BrokenLine.through([0.0, 1.0, 3.0], [4.0, 1.0, 0.0])
    >>> line.slopes.tolist(), line.value(2.0).item(), line.value(np.array([0.0, 3.0])).tolist()
    ([-3.0, -0.5], 0.5, [4.0, 0.0])
    """

    slopes: np.ndarray
    constants: np.ndarray

    @staticmethod
    def through(x: Sequence[float] | np.ndarray, y: Sequence[float] | np.ndarray) -> BrokenLine:
        """Return the line through points of rising x whose slopes do not fall."""
        slopes, first = np.unique(np.diff(y) / np.diff(x), return_index=True)
        return BrokenLine(slopes, np.asarray(y)[first] - slopes * np.asarray(x)[first])

    def value(self, x: np.ndarray | float) -> np.ndarray:
        """Return the value at one content or many."""
        return np.asarray((np.multiply.outer(x, self.slopes) + self.constants).max(axis=-1))

    def smooth(self, x: float) -> tuple[float, float]:
        """Return a value with round corners, and its slope, for a solver that follows slopes.

        It lies above the line by a ten-thousandth of what the line spans, at most.
        """
        pieces = self.slopes * x + self.constants
        width = max(1e-4 * float(np.ptp(self.constants)), 1e-12) / np.log(len(pieces) + 1.0)
        weight = np.exp((pieces - pieces.max()) / width)
        total = weight.sum()
        return float(pieces.max() + width * np.log(total)), float(weight @ self.slopes / total)

    def piece(self, x: float) -> tuple[float, float]:
        """Return between which contents the slope at x stays; both are x on a corner."""
        pieces = self.slopes * x + self.constants
        top = np.flatnonzero(pieces >= pieces.max() - BINDS * max(1.0, abs(pieces.max())))
        if len(top) > 1:
            return x, x
        corners = -np.diff(self.constants) / np.diff(self.slopes)
        ends = np.concatenate([[-np.inf], corners, [np.inf]])
        return float(ends[top[0]]), float(ends[top[0] + 1])


#: Broken lines, each with the place of its variable.
Lines: TypeAlias = Sequence[tuple[int, BrokenLine]]


def _lifted(
    cost: np.ndarray,
    rows: np.ndarray,
    ends: np.ndarray,
    low: np.ndarray,
    high: np.ndarray,
    lines: Lines,
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Give each broken line a variable that lies above all its pieces, and costs what it is."""
    size, more = len(cost), len(lines)
    pieces, above = [], []
    for k, (at, line) in enumerate(lines):
        part = np.zeros((len(line.slopes), size + more))
        part[:, at], part[:, size + k] = line.slopes, -1.0
        pieces.append(part)
        above.append(-line.constants)
    return (
        np.append(cost, np.ones(more)),
        np.vstack([np.hstack([rows, np.zeros((len(rows), more))]), *pieces]),
        np.concatenate([ends, *above]),
        np.append(low, np.full(more, -np.inf)),
        np.append(high, np.full(more, np.inf)),
    )


def minimise(
    cost: np.ndarray,
    rows: np.ndarray,
    ends: np.ndarray,
    low: np.ndarray,
    high: np.ndarray,
    lines: Lines = (),
) -> Optimum:
    """Minimise cost @ x with rows @ x <= ends and low <= x <= high.

    Parameters
    ----------
    cost, low, high : arrays, shape (variables,)
    rows : array, shape (constraints, variables)
    ends : array, shape (constraints,)
    lines : sequence of (place of a variable, BrokenLine)
        What comes to the objective beside the sum.

    Examples
    --------
    >>> minimise(np.array([1.0, 3.0]), np.array([[-1.0, -2.0]]), np.array([-4.0]),
    ...          np.zeros(2), np.array([3.0, 9.0])).x.tolist()
    [3.0, 0.5]
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    nothing = Optimum(False, np.full(len(cost), np.nan), np.nan)
    if lines:
        best = minimise(*_lifted(cost, *as_bounds(rows, ends, low, high), lines))
        return Optimum(True, best.x[: len(cost)], best.value) if best.feasible else nothing
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
    lines: Lines = (),
) -> tuple[np.ndarray, float]:
    """Return the shadow price of each row at the optimum x, and how far x is from optimal.

    Parameters
    ----------
    cost, rows, low, high, lines
        As for `minimise`.
    slack : array, shape (constraints,)
        What is left to the end of each row.
    x : array, shape (variables,)

    Returns
    -------
    (array, float)
        Non-negative, one a row: by how much the objective falls if the end of the row rises by
        one. The residual of the optimality conditions is relative to the size of the objective.
    """
    from scipy.optimize import nnls

    if lines:
        wide, every, _, least, most = _lifted(cost, rows, slack, low, high, lines)
        tops = [line.value(x[at]) for at, line in lines]
        below = [
            top - (line.slopes * x[at] + line.constants)
            for (at, line), top in zip(lines, tops, strict=True)
        ]
        left, there = np.concatenate([slack, *below]), np.append(x, tops)
        prices, residual = marginals(wide, every, left, least, most, there)
        return prices[: len(rows)], residual
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
