"""The cheapest composition that keeps a problem's constraints, and how sure it is the cheapest."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from gradekit.core.programme import marginals
from gradekit.design.problem import Problem
from gradekit.design.quantities import Quantity
from gradekit.design.smooth import Smooth

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
    problem: Problem, near: np.ndarray | None = None, tries: int = 5, only_near: bool = False
) -> Solution:
    """Find the best composition.

    Parameters
    ----------
    problem : Problem
    near : array, optional
        A point to start from beside the others.
    tries : int
        Further corners that the smooth solver starts from.
    only_near : bool
        Start from `near` alone, for a problem that differs little from one that is solved.
    """
    if not problem.curved and problem.aim_row is not None:
        return _linear(problem)
    return _smooth(problem, near, -1 if only_near else tries)


def break_tie(problem: Problem, first: Solution, second: Quantity) -> Solution:
    """Among the compositions that are best for the first aim, take the best for the second."""
    room = 1e-7 * max(1.0, abs(first.value))
    held = problem.also(problem.aim, 1, first.value + room, "the first aim")
    other = solve(replace(held, aim=second), first.x, only_near=True)
    return replace(first, x=other.x) if other.feasible else first


def _linear(problem: Problem) -> Solution:
    moving, before = problem.moving_guards, None
    for _ in range(_GUARD_ROUNDS):
        answer = problem.optimum(before)
        rest = before is not None and np.allclose(answer.x, before, rtol=0, atol=1e-9)
        if rest or not (moving and answer.feasible):
            break
        before = answer.x
    route = "linear programme (HiGHS)"
    if not answer.feasible:
        route += ": no composition keeps it"
    elif moving:
        route += ", guard bands of ratios by iteration: the optimum for these bands"
    else:
        route += ", proven optimum"
    # With guard bands that move, 'no answer' holds for the bands of the last step only.
    return Solution(answer.x, answer.value, answer.feasible, not moving, route, answer.value)


def _smooth(problem: Problem, near: np.ndarray | None, tries: int) -> Solution:
    smooth, floor = Smooth(problem), np.nan
    if problem.aim_row is not None:
        bare = problem.optimum(near)
        if not bare.feasible:
            why = "linear programme (HiGHS): the linear constraints alone cannot be kept"
            return Solution(bare.x, np.nan, False, not problem.moving_guards, why)
        floor = bare.value
        if smooth.worst(bare.x) <= 1e-9 and not problem.moving_guards:
            why = "linear programme (HiGHS); its answer keeps the others too: proven optimum"
            return Solution(bare.x, floor, True, True, why, floor)
    points = [near] if near is not None and tries < 0 else smooth.starts(tries, near)
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
    proven = bool(best.value - floor <= 1e-6 * max(abs(floor), 1e-9))  # never without a floor
    why += "; proven, at the linear floor" * proven
    return Solution(best.x, best.value, True, proven, why, floor)


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
    rows : array, shape (constraints, variables)
        Each constraint as a row at the answer; ratios and curved ones as linearised.
    """

    guard: np.ndarray
    heat: np.ndarray
    reserve: np.ndarray
    slack: np.ndarray
    price: np.ndarray
    residual: float
    rows: np.ndarray


def sensitivity(problem: Problem, x: np.ndarray) -> Sensitivity:
    """Work out guard bands, slacks and shadow prices at a composition."""
    rows, room, guard = problem.flat(x)
    slack = room - guard
    smooth = Smooth(problem)
    cost, lines = smooth.towards(x)
    if problem.curved and lines:
        # the smooth solver has followed rounded corners
        cost, lines = smooth.objective(x)[1], []
    every = np.vstack([rows, problem.hard_rows])
    left = np.append(slack, problem.hard_ends - problem.hard_rows @ x)
    loose = 1e-6 * np.maximum(np.abs(every).sum(axis=1), 1.0) if problem.curved else 0.0
    price, residual = marginals(cost, every, left - loose, problem.low, problem.high, x, lines)
    # A ratio's bound moves its row by the sum below, and turns the slope that the guard rests on.
    scale = problem.denominators(x)
    turn = np.array([_turn_of_guard(problem, i) for i in range(len(rows))])
    return Sensitivity(
        guard / scale,
        problem.heat_sd(rows) / scale,
        problem.reserve(rows, problem.errors * scale) / scale,
        slack / scale,
        price[: len(rows)] * (scale + turn),
        residual,
        rows,
    )


def _turn_of_guard(problem: Problem, i: int) -> float:
    """How fast the guard band of a ratio's row grows as its bound is tightened; else 0."""
    if i not in problem.below or not problem.z or problem.reach:
        return 0.0
    heat = problem.heat_sd(problem.rows[i : i + 1])[0]
    # row = sense (above - bound below); tightening moves the bound by -sense.
    below, _ = problem.below[i]
    slope = problem.z * problem.widen * (problem.rows[i] @ problem.covariance @ below)
    return float(slope / heat) if heat else 0.0
