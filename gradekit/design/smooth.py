"""Nonlinear constraints: a smooth solver, started from the linear answer and from others.

The guard band of such a limit depends on where the composition is, because the slope does. So the
solver is run with the guard bands held, they are taken anew at its answer, and so on until they
rest.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from gradekit.core.programme import BrokenLine, as_bounds, minimise
from gradekit.design.problem import Problem

# Linear programmes towards a start, and what a unit of a broken curve costs in them beside the
# whole swing of the objective: enough that no objective buys a violation.
_STEPS = 6
_DEAR = 100.0
# Guard bands taken anew: the next differs by the change of slope along one step, so they rest
# after three or four; fifteen is a fence.
_ROUNDS = 15
# A start ends well where no constraint is broken by more than this part of what the box moves it:
# a hundred times the tolerance of the smooth solver (ftol below), which works on the same scale.
_KEPT = 1e-6


@dataclass
class Ended:
    """Where one start ended."""

    x: np.ndarray
    value: float
    worst: float

    @property
    def kept(self) -> bool:
        return bool(self.worst <= _KEPT)


class Smooth:
    """A problem with curved constraints, held ready for the smooth solver."""

    def __init__(self, problem: Problem):
        self.problem = problem
        self.low, self.high = problem.box()
        self.span = np.maximum(self.high - self.low, 1e-4)

    def objective(self, x: np.ndarray) -> tuple[float, np.ndarray]:
        """Value and slope of what is to be least, the corners of its broken lines rounded."""
        if self.problem.aim_row is None:
            values, rows = self.problem.slopes([self.problem.aim], x)
            return float(values[0]), rows[0]
        row, constant = self.problem.aim_row
        value, slope = float(row @ x + constant), row
        for at, line in self.problem.lines:
            more, steep = line.smooth(x[at])
            value, slope = value + more, slope + steep * (np.arange(len(x)) == at)
        return value, slope

    def towards(self, x: np.ndarray) -> tuple[np.ndarray, list[tuple[int, BrokenLine]]]:
        """What is to be least as a linear programme takes it: the slope of a sum, broken lines."""
        if self.problem.aim_row is None:
            return self.objective(x)[1], []
        return self.problem.aim_row[0], self.problem.lines

    def run(self, points: list[np.ndarray]) -> Iterator[Ended]:
        """Go from every point to where the guard bands rest; points that meet go on as one."""
        ends: list[tuple[np.ndarray, Ended]] = []
        for point in points:
            x = self._approach(np.clip(point, self.low, self.high))
            end = next((t for y, t in ends if self._near(x, y)), None) or self._rest(x)
            ends.append((x, end))
            yield end

    def any_kept(self, count: int, first: np.ndarray | None = None) -> Ended:
        """Return the first end that keeps every constraint, else the one that breaks them least."""
        ends: list[Ended] = []
        for end in self.run(self.starts(count, first)):
            if end.kept:
                return end
            ends.append(end)
        return min(ends, key=lambda end: end.worst)

    def starts(self, count: int, near: np.ndarray | None = None) -> list[np.ndarray]:
        """Return points to start from: the linear answer, corners of the linear room, its middle.

        Parameters
        ----------
        count : int
            How many corners in directions drawn at random (always the same ones).
        near : array, optional
            A point to try first, such as the answer of a similar brief.
        """
        problem = self.problem
        points = [] if near is None else [near]
        if problem.aim_row is not None and (first := problem.optimum(near)).feasible:
            points.append(first.x)
        rng = np.random.default_rng(0)
        room = (*problem.straight(near), problem.low, problem.high)
        towards = rng.standard_normal((count, len(problem.variables))) / self.span
        corners = [end.x for end in (minimise(row, *room) for row in towards) if end.feasible]
        if corners:
            points += [np.mean(corners, axis=0), *corners]
        return points or [(self.low + self.high) / 2]

    def _rest(self, x: np.ndarray) -> Ended:
        *_, guard = self.problem.flat(x)
        for _ in range(_ROUNDS):
            x = self._solve(x, guard)
            *_, new = self.problem.flat(x)
            rest = np.abs(new - guard) <= 1e-6 * np.maximum(1.0, np.abs(self.problem.bound))
            guard = new
            if rest.all():
                break
        return Ended(x, self.problem.value_at(self.problem.aim, x), self.worst(x))

    def _approach(self, x: np.ndarray) -> np.ndarray:
        """Take a few steps of linear programmes, each with the curves laid flat where it stands.

        What cannot be kept of the flat curves is paid for, so that a step is always possible.
        """
        curved = self.problem.curved
        for _ in range(_STEPS):
            rows, ends = self.problem.laid(x)
            give = np.zeros(len(rows))
            give[curved] = -self.swing(rows[curved])
            towards, lines = self.towards(x)
            price = _DEAR * max(np.abs(towards) @ self.span, 1e-12)
            answer = minimise(
                np.append(towards, price),
                np.column_stack([rows, give]),
                ends,
                np.append(self.problem.low, 0.0),
                np.append(self.problem.high, 10.0),
                lines,
            )
            if not answer.feasible:
                break
            there = self._near(answer.x[:-1], x)
            x = np.clip(answer.x[:-1], self.low, self.high)
            if there:
                break
        return x

    def _near(self, x: np.ndarray, y: np.ndarray) -> bool:
        return bool(np.all(np.abs(x - y) <= 1e-3 * self.span))

    def worst(self, x: np.ndarray) -> float:
        """How far the worst constraint is from kept, in units of what the box can move it."""
        rows, ends = self.problem.laid(x)
        short = np.nan_to_num((rows @ x - ends) / self.swing(rows), nan=np.inf)
        outside = np.maximum(self.problem.low - x, x - self.problem.high)
        return float(max(short.max(initial=0.0), outside.max()))

    def swing(self, rows: np.ndarray) -> np.ndarray:
        """How far the element bounds can move what each row adds up to."""
        return np.maximum(np.abs(rows) @ self.span, 1e-9)

    def _solve(self, x: np.ndarray, guard: np.ndarray) -> np.ndarray:
        from scipy.optimize import minimize

        problem = self.problem
        rows, ends, low, high = as_bounds(*problem.straight(x), problem.low, problem.high)
        middle = (low + high) / 2
        low, high = np.where(low > high, middle, low), np.where(low > high, middle, high)
        swing = self.swing(rows)
        rows, ends = rows / swing[:, None], ends / swing
        value, slope = self.objective(x)
        unit = max(np.abs(slope) @ self.span, 1e-12)
        scale = self.swing(problem.curves(x)[1])
        guard = guard[problem.curved]
        base = x

        def contents(u: np.ndarray) -> np.ndarray:
            return base + self.span * u

        def goal(u: np.ndarray) -> tuple[float, np.ndarray]:
            now, towards = self.objective(contents(u))
            return (now - value) / unit, towards * self.span / unit

        def room(u: np.ndarray) -> np.ndarray:
            point = contents(u)
            curved = np.nan_to_num((problem.slack(point) - guard) / scale, nan=-1.0)
            return np.append(ends - rows @ point, curved)

        def turn(u: np.ndarray) -> np.ndarray:
            curved = -problem.curves(contents(u))[1] * self.span / scale[:, None]
            return np.vstack([-rows * self.span, curved])

        best = minimize(
            goal,
            np.zeros(len(x)),
            jac=True,
            method="SLSQP",
            bounds=np.column_stack([(low - base) / self.span, (high - base) / self.span]),
            constraints={"type": "ineq", "fun": room, "jac": turn},
            options={"maxiter": 60, "ftol": 1e-10},
        )
        return np.clip(contents(best.x), low, high)
