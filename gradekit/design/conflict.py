"""Why a wish cannot be met: the smallest set of demands that clash, and what would free it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from gradekit.design.problem import Problem
from gradekit.design.smooth import Smooth, starts
from gradekit.design.solve import minimise, multipliers

__all__ = ["Clash", "feasible", "find_clash", "least_change"]

_KEPT = 1e-7
_CORNERS = 2
_TURNS = 20


@dataclass
class Clash:
    """A smallest clashing set.

    Attributes
    ----------
    members : list of int
        Demands that cannot be kept together; without any one of them the others can.
    alone : mapping of member to bound
        Where the bound of this demand would have to be, all others of the brief kept; None where
        moving this one alone does not free the brief.
    together : mapping of demand to bound
        The least relaxation, measured by how far the element bounds can move each value.
    ratios : list of int
        Members that are ratios of sums.
    proven : bool
        False where curved demands take part: that none was found is no proof.
    """

    members: list[int]
    alone: dict[int, float | None] = field(default_factory=dict)
    together: dict[int, float] = field(default_factory=dict)
    ratios: list[int] = field(default_factory=list)
    proven: bool = True


def feasible(problem: Problem, active: np.ndarray) -> bool:
    """Tell whether the active demands can be kept together."""
    return _least_violation(problem, active)[0] <= _KEPT


def find_clash(problem: Problem) -> Clash | None:
    """Return why a problem has no answer, or None if it has one."""
    everything = np.ones(len(problem.demands), bool)
    worst, support, at = _least_violation(problem, everything)
    if worst <= _KEPT:
        return None
    linear_only = everything.copy()
    linear_only[problem.curved] = False
    if problem.curved and not feasible(problem, linear_only):
        worst, support, _ = _least_violation(problem, linear_only)
        everything = linear_only
    active = np.zeros_like(everything)
    active[support] = True
    if feasible(problem, active):
        active = everything.copy()
    # The deletion filter: whatever can go while the rest still clashes is no member.
    for i in np.flatnonzero(active):
        active[i] = False
        if feasible(problem, active):
            active[i] = True
    members = [int(i) for i in np.flatnonzero(active)]
    curved = any(i in problem.curved for i in members)
    ratios = [
        i for i in members if i in problem.linear and problem.linear.index(i) in problem.below
    ]
    clash = Clash(members, ratios=ratios, proven=not curved and not problem.moving_guards)
    flat = _flat_everywhere(problem, at)
    clash.together = least_change(problem, flat)
    clash.alone = {i: flat.alone(i) for i in clash.members}
    return clash


def _least_violation(
    problem: Problem, active: np.ndarray
) -> tuple[float, list[int], np.ndarray | None]:
    """Return the least violation (in swings) of the active demands, who causes it, and where.

    The place is that of the smooth solver, None where it was not asked.
    """
    smooth = Smooth(problem, active=active)
    flat = _Flat(problem, smooth, None)
    value, support, x = flat.elastic()
    if value > _KEPT or not smooth.curves:
        return value, support, None
    best = smooth.any_kept([x, *starts(smooth, _CORNERS)])
    if best.kept:
        return 0.0, [], best.x
    return best.worst, _Flat(problem, smooth, best.x).elastic()[1], best.x


class _Flat:
    """Active demands as rows, curved ones laid flat at a point, then the rows that hold anyway."""

    def __init__(self, problem: Problem, smooth: Smooth, at: np.ndarray | None):
        self.problem = problem
        rows, ends = smooth.straight(at)
        count = len(smooth.lines)
        owner = [problem.linear[k] for k in smooth.lines]
        self.line = dict(zip(owner, smooth.lines, strict=True))
        if at is not None and smooth.curves:
            room, slope, guard = smooth.bands(at)
            flat = smooth.sense[:, None] * slope
            rows = np.insert(rows, count, flat, axis=0)
            ends = np.insert(ends, count, room - guard + flat @ at)
            owner += smooth.curves
        self.rows, self.ends, self.owner = rows, ends, owner
        self.swing = np.maximum(np.abs(rows[: len(owner)]) @ smooth.span, 1e-9)

    def elastic(self) -> tuple[float, list[int], np.ndarray]:
        """Let every demand give way at a price; return the sum given, who gives or holds, where."""
        count, size = len(self.owner), self.rows.shape[1]
        give = np.vstack([-np.diag(self.swing), np.zeros((len(self.rows) - count, count))])
        wide = np.hstack([self.rows, give])
        cost = np.append(np.zeros(size), np.ones(count))
        low = np.append(self.problem.low, np.zeros(count))
        high = np.append(self.problem.high, np.full(count, 1e6))
        answer = minimise(cost, wide, self.ends, low, high)
        if not answer.feasible:
            return np.inf, list(self.owner), np.zeros(size)
        self.given = answer.x[size:] * self.swing
        price, _ = multipliers(cost, wide, self.ends - wide @ answer.x, low, high, answer.x)
        paid = price[:count] * self.swing > 1e-9
        return (
            answer.value,
            [i for i, p in zip(self.owner, paid, strict=True) if p],
            answer.x[:size],
        )

    def alone(self, i: int) -> float | None:
        """Return the bound at which demand i, moved alone, lets all the others be kept."""
        k = self.owner.index(i)
        demand, problem = self.problem.demands[i], self.problem
        others = np.delete(np.arange(len(self.rows)), k)
        line = self.line.get(i)
        below = problem.below.get(line) if line is not None else None
        row, end, bound = self.rows[k], self.ends[k], demand.bound
        for _ in range(_TURNS):
            answer = minimise(row, self.rows[others], self.ends[others], problem.low, problem.high)
            if not answer.feasible:
                return None
            amount = row @ answer.x - end
            if below is None:
                return bound + demand.sense * max(amount, 0.0)
            # A ratio: its row turns with its bound, so the step is repeated from the new bound.
            under = below[0] @ answer.x + below[1]
            step = demand.sense * amount / under
            bound += step
            row = row - demand.sense * step * below[0]
            end = end + demand.sense * step * below[1]
            if abs(step) <= 1e-10 * max(1.0, abs(bound)):
                break
        return bound


def _flat_everywhere(problem: Problem, at: np.ndarray | None = None) -> _Flat:
    """All demands as rows, curved ones laid flat where the solver offends them least."""
    smooth = Smooth(problem)
    if at is None and smooth.curves:
        at = smooth.any_kept(starts(smooth, _CORNERS)).x
    return _Flat(problem, smooth, at)


def least_change(problem: Problem, flat: _Flat | None = None) -> dict[int, float]:
    """Return the least relaxation of a problem without an answer: demand to new bound.

    Curved demands are laid flat where they are offended least.
    """
    flat = flat or _flat_everywhere(problem)
    value, _, x = flat.elastic()
    moved = {}
    if np.isfinite(value):
        for i, amount in zip(flat.owner, flat.given, strict=True):
            if amount > 1e-9:
                demand = problem.demands[i]
                below = problem.below.get(flat.line.get(i))
                unit = below[0] @ x + below[1] if below else 1.0
                moved[i] = demand.bound + demand.sense * amount / unit
    return moved
