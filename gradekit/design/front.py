"""Two aims at once: the curve on which one can only be bettered at the cost of the other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError
from gradekit.core.markup import panel, small, table
from gradekit.design.answer import find
from gradekit.design.constraints import Demand
from gradekit.design.costs import with_demand
from gradekit.design.problem import Problem
from gradekit.design.quantities import Quantity
from gradekit.design.sketches import curve
from gradekit.design.smooth import Smooth
from gradekit.design.solve import fold, minimise

__all__ = ["Front", "front"]


@dataclass(eq=False)
class Front:
    """Compositions between the best for one aim and the best for the other.

    Attributes
    ----------
    table : DataFrame, one row a point
        Both aims, then the contents in wt%.
    names, units : of the two aims
    exact : bool
        True where every point is a proven optimum of its linear programme.
    warning : str
        What has to be said of the prices used.
    """

    table: pd.DataFrame
    names: tuple[str, str]
    units: tuple[str, str]
    exact: bool
    warning: str = ""

    @property
    def words(self) -> str:
        """The curve in one sentence."""
        first, last = self.table.iloc[0], self.table.iloc[-1]
        (a, b), (unit_a, unit_b) = self.names, self.units
        how = "exact" if self.exact else "local optima"
        return (
            f"{len(self.table)} points ({how}): from {first[a]:.5g} {unit_a} with "
            f"{first[b]:.4g} {unit_b} to {last[a]:.5g} {unit_a} with {last[b]:.4g} {unit_b}"
        )

    def _repr_html_(self) -> str:
        a, b = self.names
        picture = curve(
            self.table[a].to_numpy(),
            self.table[b].to_numpy(),
            f"{a}, {self.units[0]}",
            f"{b}, {self.units[1]}",
            self.words,
        )
        every = max(1, len(self.table) // 10)
        return panel(
            picture,
            table(self.table.iloc[::every], "Points of the curve, contents in wt%"),
            small(self.warning),
            lead=self.words,
        )


def front(problem: Problem, other: Quantity, points: int, warning: str = "") -> Front:
    """Return the curve of the problem's aim against another one.

    The other aim is capped step by step (epsilon constraint), from what it is at the optimum of
    the first down to its own least value. Both ends are efficient: ties are broken by the other.
    """
    if points < 2:
        raise InputError("points of the curve", "at least 2", points)
    names = problem.aim.key, other.key
    form = other.form(problem.conditions)
    straight = not problem.curved and problem.aim_form is not None and hasattr(form, "row")
    solve = _straight if straight else _curved
    found = [(a, b, x) for a, b, x in solve(problem, other, points) if np.isfinite(a)]
    frame = pd.DataFrame(
        [
            {names[0]: a, names[1]: b} | dict(zip(problem.variables, x, strict=True))
            for a, b, x in found
        ]
    )
    frame.index = pd.RangeIndex(1, len(frame) + 1, name="point")
    return Front(frame, names, (problem.aim.unit, other.unit), straight, warning)


def _straight(problem: Problem, other: Quantity, points: int) -> list[tuple]:
    room = fold(*Smooth(problem).straight(None), problem.low, problem.high)
    rows, ends, low, high = room
    row, constant = problem.aim_row
    side, offset = other.form(problem.conditions).row(problem.index)

    def best(cost: np.ndarray, capped: np.ndarray, cap: float) -> np.ndarray | None:
        slack = 1e-9 * max(1.0, abs(cap))
        answer = minimise(cost, np.vstack([rows, capped]), np.append(ends, cap + slack), low, high)
        return answer.x if answer.feasible else None

    first = minimise(row, rows, ends, low, high)
    last = minimise(side, rows, ends, low, high)
    tidy = best(side, row, first.value)
    most = side @ (first.x if tidy is None else tidy)
    found = (best(row, side, cap) for cap in np.linspace(most, last.value, points))
    return [(row @ x + constant, side @ x + offset, x) for x in found if x is not None]


def _curved(problem: Problem, other: Quantity, points: int) -> list[tuple]:
    from dataclasses import replace

    first = find(problem)
    last = find(replace(problem, aim=other))
    if not (first.feasible and last.feasible):
        return []
    most, least = (float(problem.raw([other], f.x[None])[0, 0]) for f in (first, last))
    found, x = [], first.x
    form = other.form(problem.conditions)
    for cap in np.linspace(most, least, points):
        room = 1e-6 * max(1.0, abs(cap))
        demand = Demand(other, 1, cap + room, "limit", "the curve", form, guarded=False)
        answer = find(with_demand(problem, demand), near=x, only_near=True)
        if answer.feasible:
            x = answer.x
            found.append((answer.value, float(problem.raw([other], x[None])[0, 0]), x))
    return found
