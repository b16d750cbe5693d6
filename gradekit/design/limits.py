"""Every constraint at the aim: its value and slack, what its last unit costs, all that it costs."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.core.markup import number
from gradekit.core.programme import BINDS
from gradekit.design.constraints import Constraint
from gradekit.design.problem import Problem
from gradekit.design.solution import Sensitivity, Solution, solve
from gradekit.relations.evaluate import Result

#: Columns of the table of limits.
LIMITS = [
    "value", "bound", "unit", "heat scatter", "relation error", "guard band", "slack",
    "shadow price", "kind", "origin", "status", "flags",
]  # fmt: skip
#: Columns of the table of shadow prices.
PRICES = ["shadow price", "holds from", "holds to", "words"]


def _unit_step(constraint: Constraint) -> float:
    """Return a step of the limit that a metallurgist would speak of, in its unit."""
    if constraint.quantity.unit == "wt%":
        return 0.01 if abs(constraint.bound) < 1 else 0.1
    return 1.0 if abs(constraint.bound) >= 1 else 0.1


def last_unit(constraint: Constraint, price: float, money: str) -> str:
    """Say what the last step of a constraint costs.

    Parameters
    ----------
    constraint : Constraint
    price : float
        Objective per unit of the limit.
    money : str
        Unit of the objective.
    """
    step = _unit_step(constraint)
    size = f"{number(step)} {constraint.quantity.unit}".strip()
    return (
        f"the last {size} of '{constraint.words}' costs {number(price * step, 3)} {money}".strip()
    )


def holds(problem: Problem, at: Sensitivity, x: np.ndarray) -> np.ndarray:
    """Return between which bounds each shadow price holds.

    While the same constraints bind, the price of each stays: the optimum slides along the others.
    NaN for constraints that are not linear, and where the optimum is no corner.

    Returns
    -------
    array, shape (constraints, 2)
        Lowest and highest bound, in the unit of the quantity.
    """
    count, size = len(problem.constraints), len(x)
    ends = np.full((count, 2), np.nan)
    rows = np.vstack([at.rows, problem.hard_rows, np.eye(size), -np.eye(size)])
    low, high = problem.still(x)
    own = at.slack * problem.denominators(x)
    hard = problem.hard_ends - problem.hard_rows @ x
    slack = np.concatenate([own, hard, high - x, x - low])
    weight = np.concatenate([at.price, np.zeros(len(rows) - count)])
    basis = _basis(rows, slack, weight)
    if len(basis) < size:
        return ends
    inverse = np.linalg.inv(rows[basis])
    for column, row in enumerate(basis):
        if row >= count or row in {*problem.curved, *problem.below} or not at.price[row] > 0:
            continue
        # Tightening by t moves the corner by -t times this column; each other row allows so much.
        rate = rows @ -inverse[:, column]
        rate[basis] = 0.0
        room = np.maximum(slack, 0.0)
        tighten = (room[rate > 1e-12] / rate[rate > 1e-12]).min(initial=np.inf)
        relax = (room[rate < -1e-12] / -rate[rate < -1e-12]).min(initial=np.inf)
        bound, sense = problem.bound[row], problem.sense[row]
        ends[row] = sorted((bound - sense * tighten, bound + sense * relax))
    return ends


def _basis(rows: np.ndarray, slack: np.ndarray, weight: np.ndarray) -> list[int]:
    """Pick binding rows that fix the corner, those with a price first."""
    size = np.abs(rows).sum(axis=1)
    binding = np.flatnonzero((slack <= BINDS * np.maximum(size, 1.0)) & (size > 0))
    chosen: list[int] = []
    space = np.zeros((0, rows.shape[1]))
    for k in binding[np.argsort(-weight[binding], kind="stable")]:
        direction = rows[k] / np.linalg.norm(rows[k])
        rest = direction - space.T @ (space @ direction)
        length = np.linalg.norm(rest)
        if length > 1e-8:
            chosen.append(int(k))
            space = np.vstack([space, rest / length])
    return chosen


def limits_table(problem: Problem, at: Sensitivity, x: np.ndarray, result: Result) -> pd.DataFrame:
    """Return every constraint at a composition, one row each."""
    values = problem.full(x[None])[:, 0]
    flags = {r.name: result.words("aim", r.name) for r in result.relations}
    rows = []
    for i, constraint in enumerate(problem.constraints):
        quantity = constraint.quantity
        names = list(quantity.named)
        error = quantity.error_at(values[i], problem.conditions)
        words = [flags.get(n, "") for n in names]
        still = abs(at.slack[i]) <= 1e-6 * max(1.0, abs(constraint.bound))
        rows.append(
            {
                "limit": constraint.label,
                "value": values[i],
                "bound": constraint.bound,
                "unit": quantity.unit,
                "heat scatter": at.heat[i],
                "relation error": error if constraint.kind != "range" else 0.0,
                "guard band": at.guard[i],
                "slack": 0.0 if still else at.slack[i],
                "shadow price": at.price[i],
                "kind": constraint.kind,
                "origin": constraint.origin,
                "status": ", ".join(dict.fromkeys(r.status for r in quantity.named.values())),
                "flags": "; ".join(dict.fromkeys(w for w in words if w)),
            }
        )
    return pd.DataFrame(rows, columns=["limit", *LIMITS]).set_index("limit")


def prices_table(problem: Problem, at: Sensitivity, solution: Solution) -> pd.DataFrame:
    """Return what each constraint that binds costs, the dearest step first."""
    span = holds(problem, at, solution.x)
    rows = {}
    for i in _priced(at, solution):
        constraint = problem.constraints[i]
        words = last_unit(constraint, at.price[i], problem.aim.unit)
        rows[constraint.label] = [at.price[i], *span[i], words]
    return pd.DataFrame(list(rows.values()), pd.Index(rows, name="limit"), PRICES)


def savings(problem: Problem, at: Sensitivity, solution: Solution) -> pd.Series:
    """Return by how much the objective falls without each constraint that binds: a solution each.

    NaN where the brief cannot be solved without it.
    """
    saved = {}
    for i in _priced(at, solution):
        others = problem.only(k for k in range(len(problem.constraints)) if k != i)
        other = solve(others, near=solution.x, only_near=True)
        saved[problem.constraints[i].label] = solution.value - other.value
    return pd.Series(saved, dtype=float, name="saves").rename_axis("limit")


def _priced(at: Sensitivity, solution: Solution) -> list[int]:
    """Constraints that cost something, the one with the dearest guard band or unit first."""
    dear = at.price > 1e-9 * max(1.0, abs(solution.value))
    return [int(i) for i in np.flatnonzero(dear)]
