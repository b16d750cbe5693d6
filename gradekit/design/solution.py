"""The cheapest composition that keeps a problem's constraints, and how sure it is the cheapest."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from gradekit.core.programme import marginals, minimise
from gradekit.design.constraints import Constraint
from gradekit.design.problem import Problem
from gradekit.design.quantities import Quantity
from gradekit.design.smooth import Smooth, slopes, starts

# Guard bands of ratios move with the composition; each round halves the step at least.
_GUARD_ROUNDS = 30


@dataclass
class Solution:
    """An answer and how it was come by.

    Attributes
    ----------
    x : array
        Contents in the order of the problem's variables; NaN where there is none.
    value : float
        The objective there.
    feasible, proven : bool
        `proven`: nothing can be better (or, of an infeasible one, nothing can be met).
    route : str
        In words.
    floor : float
        What no composition that keeps the linear constraints alone can undercut.
    """

    x: np.ndarray
    value: float
    feasible: bool
    proven: bool
    route: str
    floor: float = np.nan


def solve(
    problem: Problem,
    rounding: np.ndarray | None = None,
    near: np.ndarray | None = None,
    tries: int = 5,
    active: np.ndarray | None = None,
    only_near: bool = False,
) -> Solution:
    """Find the best composition.

    Parameters
    ----------
    problem : Problem
    rounding : array, optional
        Room to leave for rounding, wt% per variable.
    near : array, optional
        A point to start from beside the others.
    tries : int
        Further corners that the smooth solver starts from.
    active : array of bool, optional
        Which constraints count; all of them by default.
    only_near : bool
        Start from `near` alone, for a problem that differs little from one that is solved.
    """
    smooth = Smooth(problem, rounding, active)
    if not smooth.curves and problem.aim_form is not None:
        return _linear(problem, smooth)
    return _smooth(problem, smooth, near, -1 if only_near else tries)


def break_tie(problem: Problem, first: Solution, second: Quantity) -> Solution:
    """Among the compositions that are best for the first aim, take the best for the second."""
    room = 1e-7 * max(1.0, abs(first.value))
    form = problem.aim.form(problem.conditions)
    hold = Constraint(
        problem.aim, 1, first.value + room, "limit", "the first aim", form, guarded=False
    )
    other = solve(replace(with_constraint(problem, hold), aim=second), near=first.x, only_near=True)
    return replace(first, x=other.x) if other.feasible else first


def with_constraint(problem: Problem, constraint: Constraint, **changes: Any) -> Problem:
    """Return the problem with one constraint more."""
    return replace(problem, constraints=[*problem.constraints, constraint], **changes)


def _linear(problem: Problem, smooth: Smooth) -> Solution:
    row, constant = problem.aim_row
    x = None
    for _ in range(_GUARD_ROUNDS):
        rows, ends = smooth.straight(x)
        answer = minimise(row, rows, ends, problem.low, problem.high, problem.lines)
        if not answer.feasible:
            break
        rest = x is not None and np.allclose(answer.x, x, rtol=0, atol=1e-9)
        x = answer.x
        if not problem.moving_guards or rest:
            break
    route = "linear programme (HiGHS)"
    if not answer.feasible:
        # With guard bands that move, 'no answer' holds for the bands of the last step only.
        return Solution(
            answer.x, np.nan, False, not problem.moving_guards, f"{route}: no composition keeps it"
        )
    if problem.moving_guards:
        return Solution(
            answer.x,
            answer.value + constant,
            True,
            False,
            f"{route}, guard bands of ratios by iteration: the optimum for these bands",
            answer.value + constant,
        )
    route += ", proven optimum"
    return Solution(answer.x, answer.value + constant, True, True, route, answer.value + constant)


def _smooth(problem: Problem, smooth: Smooth, near: np.ndarray | None, tries: int) -> Solution:
    floor = np.nan
    if problem.aim_form is not None:
        row, constant = problem.aim_row
        rows, ends = smooth.straight(near)
        bare = minimise(row, rows, ends, problem.low, problem.high, problem.lines)
        if not bare.feasible:
            why = "linear programme (HiGHS): the linear constraints alone cannot be kept"
            return Solution(bare.x, np.nan, False, not problem.moving_guards, why)
        floor = bare.value + constant
        if smooth.worst(bare.x) <= 1e-9 and not problem.moving_guards:
            why = "linear programme (HiGHS); its answer keeps the others too: proven optimum"
            return Solution(bare.x, floor, True, True, why, floor)
    points = [near] if near is not None and tries < 0 else starts(smooth, tries, near)
    tried = list(smooth.run(points))
    kept = [t for t in tried if t.kept]
    if not kept:
        why = f"smooth solver from {len(tried)} starts: no composition that keeps it came up"
        return Solution(np.full(len(problem.low), np.nan), np.nan, False, False, why, floor)
    best = min(kept, key=lambda t: t.value)
    same = sum(t.value <= best.value + 1e-4 * max(abs(best.value), 1e-9) for t in kept)
    whence = f"the best of {len(tried)} starts, of which {same} ended there"
    if len(tried) == 1:
        whence = "from the answer to a similar problem"
    why = f"smooth solver: local optimum, {whence}"
    if np.isfinite(floor) and best.value - floor <= 1e-6 * max(abs(floor), 1e-9):
        return Solution(
            best.x, best.value, True, True, f"{why}; proven, at the linear floor", floor
        )
    return Solution(best.x, best.value, True, False, why, floor)


@dataclass
class Sensitivity:
    """What each constraint costs at an answer, in the order of the constraints.

    Attributes
    ----------
    guard, heat : arrays
        Guard band and scatter of heats (one standard deviation), in the unit of the quantity.
    reserve : array
        The part of the guard band that a window may not use.
    slack : array
        What is left beyond the guard band, in the unit of the quantity.
    price : array
        By how much the objective rises if the constraint is tightened by one unit.
    residual : float
        How far the optimality conditions are from kept, relative to the objective.
    rows, row_slack : arrays
        Each constraint as a row at the answer, and its slack there; ratios and curved ones as
        linearised.
    """

    guard: np.ndarray
    heat: np.ndarray
    reserve: np.ndarray
    slack: np.ndarray
    price: np.ndarray
    residual: float
    rows: np.ndarray
    row_slack: np.ndarray


def sensitivity(problem: Problem, x: np.ndarray) -> Sensitivity:
    """Work out guard bands, slacks and shadow prices at a composition."""
    count = len(problem.constraints)
    rows = np.zeros((count, len(x)))
    guard, slack = np.zeros(count), np.zeros(count)
    scale, turn = np.ones(count), np.zeros(count)
    linear, curved = np.array(problem.linear, int), np.array(problem.curved, int)
    error = np.array([d.error for d in problem.constraints])
    if len(linear):
        unit = problem.denominators(x)
        rows[linear] = problem.rows
        guard[linear] = problem.guards(x)
        slack[linear] = problem.ends - problem.rows @ x - guard[linear]
        scale[linear] = unit
    if len(curved):
        smooth = Smooth(problem)
        room, slope, band = smooth.bands(x)
        rows[curved] = smooth.sense[:, None] * slope
        guard[curved] = band
        slack[curved] = room - band
    for k in problem.below:
        turn[problem.linear[k]] = _turn_of_guard(problem, k)
    cost, _ = problem.aim_row
    lines = problem.lines
    if problem.aim_form is None:
        cost = slopes(problem, [problem.aim], x)[1][0]
    elif len(curved) and lines:
        # the smooth solver has followed rounded corners
        cost, lines = Smooth(problem).objective(x)[1], []
    every = np.vstack([rows, problem.hard_rows])
    left = np.append(slack, problem.hard_ends - problem.hard_rows @ x)
    size = np.abs(every).sum(axis=1)
    loose = 1e-6 * np.maximum(size, 1.0) if len(curved) else 0.0
    price, residual = marginals(cost, every, left - loose, problem.low, problem.high, x, lines)
    # A ratio's bound moves its row by the sum below, and turns the slope that the guard rests on.
    return Sensitivity(
        guard / scale,
        problem.heat_sd(rows) / scale,
        problem.reserve(rows, error * scale) / scale,
        slack / scale,
        price[:count] * (scale + turn),
        residual,
        rows,
        slack,
    )


def _turn_of_guard(problem: Problem, k: int) -> float:
    """How fast the guard band of a ratio's row grows as its bound is tightened."""
    heat = problem.heat_sd(problem.rows[k : k + 1])[0]
    if not problem.z or not heat or problem.reach:
        return 0.0
    below, _ = problem.below[k]
    # row = sense (above - bound below); tightening moves the bound by -sense.
    slope = problem.z * problem.widen * (problem.rows[k] @ problem.covariance @ below)
    return float(slope / heat)
