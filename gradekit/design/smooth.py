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
from gradekit.design.quantities import Quantity

# Central differences: this part of the content, at which their error (its square times the third
# slope) and the rounding of doubles (1e-16 over it) are both below 1e-7 of the value.
_STEP = 1e-4
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


def slopes(
    problem: Problem, quantities: list[Quantity], x: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return values and slopes of bare formulas at one point, by central differences.

    Returns
    -------
    values, shape (quantities,); slopes, shape (quantities, variables), per wt%
    """
    if not quantities:
        return np.zeros(0), np.zeros((0, len(x)))
    step = _STEP * np.maximum(np.abs(x), 0.01)
    up = x + np.diag(step)
    down = np.maximum(x - np.diag(step), 0.0)
    values = problem.raw(quantities, np.vstack([x[None], up, down]))
    size = len(x)
    width = up.diagonal() - down.diagonal()
    return values[:, 0], (values[:, 1 : size + 1] - values[:, size + 1 :]) / width


@dataclass
class _Try:
    """Where one start ended."""

    x: np.ndarray
    value: float
    worst: float

    @property
    def kept(self) -> bool:
        return bool(self.worst <= _KEPT)


@dataclass
class Smooth:
    """A problem with curved constraints, held ready for the smooth solver.

    Parameters
    ----------
    problem : Problem
    rounding : array or None
        Half a unit of the last digit that will be written, wt% per variable; every constraint then
        leaves room for rounding.
    active : array of bool or None
        Which constraints count; all of them by default.
    """

    problem: Problem
    rounding: np.ndarray | None = None
    active: np.ndarray | None = None

    def __post_init__(self) -> None:
        p = self.problem
        on = np.ones(len(p.constraints), bool) if self.active is None else self.active
        self.lines = np.array([k for k, i in enumerate(p.linear) if on[i]], dtype=int)
        self.curves = [i for i in p.curved if on[i]]
        # Several constraints on one quantity (both ends, a range) need its formula once.
        once = {p.constraints[i].quantity.key: p.constraints[i].quantity for i in self.curves}
        self.quantities = list(once.values())
        at = {key: k for k, key in enumerate(once)}
        self.which = np.array([at[p.constraints[i].quantity.key] for i in self.curves], dtype=int)
        self.sense = np.array([p.constraints[i].sense for i in self.curves], dtype=float)
        self.bound = np.array([p.constraints[i].bound for i in self.curves])
        self.error = np.array([p.constraints[i].error for i in self.curves])
        self.guarded = np.array([p.constraints[i].guarded for i in self.curves], dtype=float)
        self.low, self.high = p.box(self.lines)
        self.span = np.maximum(self.high - self.low, 1e-4)

    # --- rows -------------------------------------------------------------------------------

    def margin(self, rows: np.ndarray) -> np.ndarray:
        """What rounding may take from each row."""
        half = np.zeros(rows.shape[1]) if self.rounding is None else self.rounding
        return np.abs(rows) @ half

    def straight(self, x: np.ndarray | None) -> tuple[np.ndarray, np.ndarray]:
        """Rows and guarded ends of the linear constraints and of what holds anyway."""
        p = self.problem
        ends = (p.ends - p.guards(x) - self.margin(p.rows))[self.lines]
        return np.vstack([p.rows[self.lines], p.hard_rows]), np.append(ends, p.hard_ends)

    def bands(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Slack without guard, slopes and guard bands of the curved constraints at x."""
        values, slope = slopes(self.problem, self.quantities, x)
        values, slope = values[self.which], np.nan_to_num(slope)[self.which]
        p = self.problem
        guard = self.guarded * p.bands(slope, self.error) + self.margin(slope)
        return self.sense * (self.bound - values), slope, guard

    # --- solving ----------------------------------------------------------------------------

    def objective(self, x: np.ndarray) -> tuple[float, np.ndarray]:
        """Value and slope of what is to be least, the corners of its broken lines rounded."""
        row, constant = self.problem.aim_row
        if self.problem.aim_form is not None:
            value, slope = float(row @ x + constant), row
            for at, line in self.problem.lines:
                more, steep = line.smooth(x[at])
                value, slope = value + more, slope + steep * (np.arange(len(x)) == at)
            return value, slope
        values, slope = slopes(self.problem, [self.problem.aim], x)
        return float(values[0]), slope[0]

    def _straight_aim(self, x: np.ndarray) -> tuple[np.ndarray, list[tuple[int, BrokenLine]]]:
        """What is to be least as a linear programme takes it: the slope of a sum, broken lines."""
        if self.problem.aim_form is not None:
            return self.problem.aim_row[0], self.problem.lines
        return self.objective(x)[1], []

    def run(self, points: list[np.ndarray]) -> Iterator[_Try]:
        """Go from every point to where the guard bands rest; points that meet go on as one."""
        ends: list[tuple[np.ndarray, _Try]] = []
        for point in points:
            x = self._approach(np.clip(point, self.low, self.high))
            end = next((t for y, t in ends if self._near(x, y)), None) or self._rest(x)
            ends.append((x, end))
            yield end

    def any_kept(self, points: list[np.ndarray]) -> _Try:
        """Return the first end that keeps every constraint, else the one that breaks them least."""
        ends: list[_Try] = []
        for end in self.run(points):
            if end.kept:
                return end
            ends.append(end)
        return min(ends, key=lambda end: end.worst)

    def _rest(self, x: np.ndarray) -> _Try:
        guard = self.bands(x)[2]
        for _ in range(_ROUNDS):
            x = self._solve(x, guard)
            new = self.bands(x)[2]
            rest = np.all(np.abs(new - guard) <= 1e-6 * np.maximum(1.0, np.abs(self.bound)))
            guard = new
            if rest:
                break
        value = float(self.problem.raw([self.problem.aim], x[None])[0, 0])
        return _Try(x, value, self.worst(x))

    def _approach(self, x: np.ndarray) -> np.ndarray:
        """Take a few steps of linear programmes, each with the curves laid flat where it stands.

        What cannot be kept of the flat curves is paid for, so that a step is always possible.
        """
        for _ in range(_STEPS):
            room, slope, guard = self.bands(x)
            flat = self.sense[:, None] * slope
            rows, ends = self.straight(x)
            towards, lines = self._straight_aim(x)
            price = _DEAR * max(np.abs(towards) @ self.span, 1e-12)
            give = np.append(np.zeros(len(rows)), -self._swing(flat))
            answer = minimise(
                np.append(towards, price),
                np.column_stack([np.vstack([rows, flat]), give]),
                np.append(ends, room - guard + flat @ x),
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
        rows, ends = self.straight(x)
        short = (rows @ x - ends) / self._swing(rows)
        slack, slope, guard = self.bands(x)
        curved = np.nan_to_num((guard - slack) / self._swing(slope), nan=np.inf)
        outside = np.maximum(self.problem.low - x, x - self.problem.high)
        return float(max(short.max(initial=0.0), curved.max(initial=0.0), outside.max()))

    def _swing(self, rows: np.ndarray) -> np.ndarray:
        return np.maximum(np.abs(rows) @ self.span, 1e-9)

    def _solve(self, x: np.ndarray, guard: np.ndarray) -> np.ndarray:
        from scipy.optimize import minimize

        rows, ends = self.straight(x)
        rows, ends, low, high = as_bounds(rows, ends, self.problem.low, self.problem.high)
        middle = (low + high) / 2
        low, high = np.where(low > high, middle, low), np.where(low > high, middle, high)
        swing = self._swing(rows)
        rows, ends = rows / swing[:, None], ends / swing
        value, slope = self.objective(x)
        unit = max(np.abs(slope) @ self.span, 1e-12)
        scale = self._swing(self.bands(x)[1])
        base = x

        def contents(u: np.ndarray) -> np.ndarray:
            return base + self.span * u

        def goal(u: np.ndarray) -> tuple[float, np.ndarray]:
            now, towards = self.objective(contents(u))
            return (now - value) / unit, towards * self.span / unit

        def room(u: np.ndarray) -> np.ndarray:
            point = contents(u)
            values = self.problem.raw(self.quantities, point[None])[self.which, 0]
            curved = np.nan_to_num((self.sense * (self.bound - values) - guard) / scale, nan=-1.0)
            return np.append(ends - rows @ point, curved)

        def turn(u: np.ndarray) -> np.ndarray:
            _, slope, _ = self.bands(contents(u))
            curved = -self.sense[:, None] * slope * self.span / scale[:, None]
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


def starts(smooth: Smooth, count: int, near: np.ndarray | None = None) -> list[np.ndarray]:
    """Return points to start from: the linear answer, corners of the linear room, its middle.

    Parameters
    ----------
    count : int
        How many corners in directions drawn at random (always the same ones).
    near : array, optional
        A point to try first, such as the answer of a similar brief.
    """
    problem = smooth.problem
    rows, ends = smooth.straight(near)
    points = [] if near is None else [near]
    row, _ = problem.aim_row
    if problem.aim_form is not None:
        first = minimise(row, rows, ends, problem.low, problem.high, problem.lines)
        if first.feasible:
            points.append(first.x)
    rng = np.random.default_rng(0)
    corners = []
    for _ in range(count):
        towards = rng.standard_normal(len(problem.variables)) / smooth.span
        corner = minimise(towards, rows, ends, problem.low, problem.high)
        if corner.feasible:
            corners.append(corner.x)
    if corners:
        points += [np.mean(corners, axis=0), *corners]
    return points or [(smooth.low + smooth.high) / 2]
