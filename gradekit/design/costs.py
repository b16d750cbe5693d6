"""What each demand costs: the price of its last unit, how far that price holds, all of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from gradekit.core.markup import number
from gradekit.design.answer import Sensitivity, find
from gradekit.design.constraints import Demand
from gradekit.design.problem import Problem

__all__ = ["holds", "last_unit", "unit_step", "without"]

_BIND = 1e-7


def unit_step(demand: Demand) -> float:
    """Return a step of the limit that a metallurgist would speak of, in its unit."""
    if demand.quantity.unit == "wt%":
        return 0.01 if abs(demand.bound) < 1 else 0.1
    return 1.0 if abs(demand.bound) >= 1 else 0.1


def last_unit(demand: Demand, price: float, money: str) -> str:
    """Say what the last step of a demand costs.

    Parameters
    ----------
    demand : Demand
    price : float
        Objective per unit of the limit.
    money : str
        Unit of the objective.
    """
    step = unit_step(demand)
    size = f"{number(step)} {demand.quantity.unit}".strip()
    return f"the last {size} of '{demand.words}' costs {number(price * step, 3)} {money}".strip()


def holds(problem: Problem, at: Sensitivity, x: np.ndarray) -> np.ndarray:
    """Return between which bounds each shadow price holds.

    While the same demands bind, the price of each stays: the optimum slides along the others.
    NaN for demands that are not linear, and where the optimum is no corner.

    Returns
    -------
    array, shape (demands, 2)
        Lowest and highest bound, in the unit of the quantity.
    """
    count, size = len(problem.demands), len(x)
    ends = np.full((count, 2), np.nan)
    identity = np.eye(size)
    rows = np.vstack([at.rows, problem.hard_rows, identity, -identity])
    slack = np.concatenate(
        [
            at.row_slack,
            problem.hard_ends - problem.hard_rows @ x,
            problem.high - x,
            x - problem.low,
        ]
    )
    weight = np.concatenate([at.price, np.zeros(len(rows) - count)])
    basis = _basis(rows, slack, weight)
    if len(basis) < size:
        return ends
    inverse = np.linalg.inv(rows[basis])
    for column, row in enumerate(basis):
        if row >= count or row in problem.curved or not at.price[row] > 0:
            continue
        if problem.linear.index(row) in problem.below:
            continue
        # Tightening by t moves the corner by -t times this column; each other row allows so much.
        rate = rows @ -inverse[:, column]
        rate[basis] = 0.0
        room = np.maximum(slack, 0.0)
        tighten = (room[rate > 1e-12] / rate[rate > 1e-12]).min(initial=np.inf)
        relax = (room[rate < -1e-12] / -rate[rate < -1e-12]).min(initial=np.inf)
        demand = problem.demands[row]
        ends[row] = sorted(
            (demand.bound - demand.sense * tighten, demand.bound + demand.sense * relax)
        )
    return ends


def _basis(rows: np.ndarray, slack: np.ndarray, weight: np.ndarray) -> list[int]:
    """Pick binding rows that fix the corner, those with a price first."""
    scale = np.maximum(np.abs(rows).sum(axis=1), 1.0)
    binding = np.flatnonzero(slack <= _BIND * scale)
    order = binding[np.argsort(-weight[binding], kind="stable")]
    chosen: list[int] = []
    space = np.zeros((0, rows.shape[1]))
    for k in order:
        direction = rows[k] / np.linalg.norm(rows[k])
        rest = direction - space.T @ (space @ direction)
        length = np.linalg.norm(rest)
        if length > 1e-8:
            chosen.append(int(k))
            space = np.vstack([space, rest / length])
        if len(chosen) == rows.shape[1]:
            break
    return chosen


def without(problem: Problem, at: Sensitivity, x: np.ndarray) -> np.ndarray:
    """Return the objective without each demand that has a price; NaN for the others."""
    values = np.full(len(problem.demands), np.nan)
    for i in np.flatnonzero(at.price > 0):
        active = np.ones(len(problem.demands), bool)
        active[i] = False
        found = find(problem, near=x, only_near=True, active=active)
        if found.feasible:
            values[i] = found.value
    return values


def with_demand(problem: Problem, demand: Demand, **changes: object) -> Problem:
    """Return the problem with one demand more."""
    return replace(problem, demands=[*problem.demands, demand], **changes)
