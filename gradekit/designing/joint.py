"""Answers that take more than one solution: ties, all limits together, the most that can be had."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from gradekit.designing.answer import Found, find
from gradekit.designing.costs import with_demand
from gradekit.designing.demands import Demand
from gradekit.designing.problem import Problem
from gradekit.designing.proof import prove
from gradekit.designing.quantities import Quantity

__all__ = ["all_together", "break_tie", "most_certain", "most_room"]

_ROUNDS = 12
_MISS = 0.002
_HALVINGS = 14


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

    plain = find(replace(problem, z=0.0, reach=0.0))
    if not plain.feasible:
        return None
    best = _halve(problem, plain.x, problem.z, lambda z: {"z": z, "reach": 0.0, "widen": 1.0})
    return float(ndtr(best))


def most_room(problem: Problem, x: np.ndarray, most: float = 4.0) -> float:
    """Return the widest window that could be asked for, in standard deviations."""
    return _halve(problem, x, most, lambda reach: {"reach": reach})


def _halve(problem: Problem, near: np.ndarray, high: float, changes) -> float:
    low = 0.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        found = find(replace(problem, **changes(middle)), near=near, only_near=True)
        if found.feasible:
            low, near = middle, found.x
        else:
            high = middle
    return low
