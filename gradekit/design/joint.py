"""Answers that take more than one solution: ties, all limits together, the most that can be had."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from gradekit.design.answer import Found, find
from gradekit.design.constraints import Demand
from gradekit.design.costs import with_demand
from gradekit.design.problem import Problem
from gradekit.design.proof import prove
from gradekit.design.quantities import Quantity
from gradekit.design.smooth import Smooth, starts
from gradekit.design.solve import minimise

__all__ = ["all_together", "break_tie", "met_without_errors", "most_certain", "most_room"]

_ROUNDS = 12
_MISS = 0.002
_HALVINGS = 14
_CORNERS = 5
_CLIMBS = 20
_CUTS = 10
_ENOUGH = 1e-5
_KEPT = 1e-6


def break_tie(problem: Problem, found: Found, second: Quantity) -> Found:
    """Among the compositions that are best for the first aim, take the best for the second."""
    room = 1e-7 * max(1.0, abs(found.value))
    form = problem.aim.form(problem.conditions)
    hold = Demand(problem.aim, 1, found.value + room, "limit", "the first aim", form, guarded=False)
    other = find(replace(with_demand(problem, hold), aim=second), near=found.x, only_near=True)
    return replace(found, x=other.x) if other.feasible else found


def all_together(
    problem: Problem, found: Found, confidence: float, heats: int
) -> tuple[Problem, Found]:
    """Count the scatter more than once until so many heats keep every limit.

    The published errors are not counted more than once: they are paid once for the steel.
    """
    from scipy.special import ndtri

    wanted = float(ndtri(confidence))
    for _ in range(_ROUNDS):
        share = prove(problem, found.x, heats).all()[0]
        if abs(share - confidence) <= _MISS:
            break
        reached = float(ndtri(np.clip(share, 1e-4, 1 - 1e-4)))
        widen = problem.widen + (wanted - reached) / problem.z
        problem = replace(problem, widen=max(widen, 0.0))
        found = find(problem, near=found.x, only_near=True)
        if not found.feasible:
            break
    return problem, found


def most_certain(problem: Problem) -> float | None:
    """Return the highest confidence at which each limit could be kept; None if at none."""
    from scipy.special import ndtr

    bare = Smooth(replace(problem, z=0.0, reach=0.0))
    plain = bare.any_kept(starts(bare, _CORNERS))
    if not plain.kept:
        return None
    return float(ndtr(_climb(problem, bare, plain.x)))


def met_without_errors(problem: Problem) -> bool:
    """Tell whether it is the published errors that put a brief out of reach."""
    if not any(demand.error for demand in problem.demands):
        return False
    bare = Smooth(replace(problem, demands=[replace(d, error=0.0) for d in problem.demands]))
    return bare.any_kept(starts(bare, _CORNERS)).kept


def _climb(problem: Problem, bare: Smooth, x: np.ndarray) -> float:
    """Return how many standard deviations of guard can be kept, from where none are.

    At one composition that is the least slack over its guard band. Curves laid flat there, the
    most is a linear programme; a step that gains nothing is cut in half.
    """
    guarded = Smooth(replace(problem, z=1.0, reach=0.0, widen=1.0))
    rows, slack, guard = _rows(bare, guarded, x)
    best = _kept(slack, guard, problem.z)
    for _ in range(_CLIMBS):
        answer = minimise(
            np.append(np.zeros(len(x)), -1.0),
            np.column_stack([rows, guard]),
            slack + rows @ x,
            np.append(problem.low, 0.0),
            np.append(problem.high, problem.z),
        )
        if not answer.feasible or answer.x[-1] <= best + _ENOUGH:
            break
        step = answer.x[:-1] - x
        for _ in range(_CUTS):
            rows, slack, guard = _rows(bare, guarded, x + step)
            if (reached := _kept(slack, guard, problem.z)) > best:
                break
            step = step / 2
        else:
            break
        best, x = reached, x + step
    return best


def _rows(
    bare: Smooth, guarded: Smooth, x: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Every demand at x as a row, its slack there, and what one standard deviation takes of it."""
    rows, ends = bare.straight(x)
    room, slope, band = guarded.bands(x)
    flat = guarded.sense[:, None] * slope
    return (
        np.vstack([rows, flat]),
        np.append(ends - rows @ x, room),
        np.append(ends - guarded.straight(x)[1], band),
    )


def _kept(slack: np.ndarray, guard: np.ndarray, most: float) -> float:
    """Standard deviations of guard that every demand has room for."""
    takes = guard > 0
    if (slack[~takes] < -_KEPT).any():
        return 0.0
    return float(np.clip((slack[takes] / guard[takes]).min(initial=most), 0.0, most))


def most_room(problem: Problem, x: np.ndarray, most: float = 4.0) -> float:
    """Return the widest window that could be asked for, in standard deviations."""
    low, high = 0.0, most
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        found = find(replace(problem, reach=middle), near=x, only_near=True)
        if found.feasible:
            low, x = middle, found.x
        else:
            high = middle
    return low
