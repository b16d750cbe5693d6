"""How sure: all limits together, the most certainty and the widest window that can be had."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from gradekit.core.programme import minimise
from gradekit.design.problem import Problem
from gradekit.design.proof import prove
from gradekit.design.smooth import Smooth
from gradekit.design.solution import Solution, solve

# Scatter multiplier for joint confidence: taken anew until the share is met to two heats in a
# thousand, which is what a proof of 20,000 heats tells from chance at 95 % (0.0015).
_ROUNDS = 12
#: By how little a share may miss the certainty asked for and still be called met.
REACHED = 0.002
# Of the widest window: 4 standard deviations over 2^14 is finer than any decimal written.
_HALVINGS = 14
# Starts of the smooth solver beside the linear answer.
_CORNERS = 5
# Steps towards more certainty, how often one is halved, and the gain in standard deviations below
# which it rests (1e-5 is 0.0004 % of heats).
_CLIMBS = 20
_CUTS = 10
_ENOUGH = 1e-5
# A constraint without a guard band is kept where it misses by less, as in the smooth solver.
_KEPT = 1e-6


def percent(share: float) -> str:
    """Return a share in per cent, never rounded up to 100.

    Examples
    --------
    >>> percent(0.99996), percent(1.0), percent(0.9512)
    ('99.99 %', '100 %', '95.1 %')
    """
    if 0.999 < share < 1.0:
        return f"{int(share * 1e4) / 100:.2f} %"
    return f"{100 * share:.1f} %" if share < 1.0 else "100 %"


def all_together(
    problem: Problem, solution: Solution, confidence: float, heats: int
) -> tuple[Problem, Solution]:
    """Count the scatter more than once until so many heats keep every limit.

    The published errors are not counted more than once: they are paid once for the steel.
    """
    from scipy.special import ndtri

    wanted = float(ndtri(confidence))
    for _ in range(_ROUNDS):
        share = prove(problem, solution.x, heats).all()[0]
        if abs(share - confidence) <= REACHED:
            break
        reached = float(ndtri(np.clip(share, 1e-4, 1 - 1e-4)))
        widen = problem.widen + (wanted - reached) / problem.z
        problem = replace(problem, widen=max(widen, 0.0))
        solution = solve(problem, near=solution.x, only_near=True)
        if not solution.feasible:
            break
    return problem, solution


def most_certain(problem: Problem) -> float | None:
    """Return the highest confidence at which each limit could be kept; None if at none."""
    from scipy.special import ndtr

    plain = Smooth(replace(problem, z=0.0, reach=0.0)).any_kept(_CORNERS)
    return float(ndtr(_climb(problem, plain.x))) if plain.kept else None


def met_without_errors(problem: Problem) -> bool:
    """Tell whether it is the published errors that put a brief out of reach."""
    if not any(constraint.error for constraint in problem.constraints):
        return False
    sure = [replace(constraint, error=0.0) for constraint in problem.constraints]
    return Smooth(replace(problem, constraints=sure)).any_kept(_CORNERS).kept


def _climb(problem: Problem, x: np.ndarray) -> float:
    """Return how many standard deviations of guard can be kept, from where none are.

    At one composition that is the least slack over its guard band. Curves laid flat there, the
    most is a linear programme; a step that gains nothing is cut in half.
    """
    one = replace(problem, z=1.0, reach=0.0, widen=1.0)
    rows, slack, guard = one.flat(x)
    best = _kept(slack, guard, problem.z)
    hard = np.column_stack([problem.hard_rows, np.zeros(len(problem.hard_rows))])
    for _ in range(_CLIMBS):
        answer = minimise(
            np.append(np.zeros(len(x)), -1.0),
            np.vstack([np.column_stack([rows, guard]), hard]),
            np.append(slack + rows @ x, problem.hard_ends),
            np.append(problem.low, 0.0),
            np.append(problem.high, problem.z),
        )
        if not answer.feasible or answer.x[-1] <= best + _ENOUGH:
            break
        step = answer.x[:-1] - x
        for _ in range(_CUTS):
            rows, slack, guard = one.flat(x + step)
            if (reached := _kept(slack, guard, problem.z)) > best:
                break
            step = step / 2
        else:
            break
        best, x = reached, x + step
    return best


def _kept(slack: np.ndarray, guard: np.ndarray, most: float) -> float:
    """Standard deviations of guard that every constraint has room for."""
    takes = guard > 0
    if (slack[~takes] < -_KEPT).any():
        return 0.0
    return float(np.clip((slack[takes] / guard[takes]).min(initial=most), 0.0, most))


def most_room(problem: Problem, x: np.ndarray, most: float = 4.0) -> float:
    """Return the widest window that could be asked for, in standard deviations."""
    low, high = 0.0, most
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        solution = solve(replace(problem, reach=middle), near=x, only_near=True)
        if solution.feasible:
            low, x = middle, solution.x
        else:
            high = middle
    return low
