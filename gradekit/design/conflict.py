"""Why a brief cannot be met: a smallest infeasible set, what would free it, in words and tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pandas as pd

from gradekit.core.markup import Part, details, number, panel, table
from gradekit.core.programme import infeasible_set, minimise, relax
from gradekit.design.certainty import met_without_errors, most_certain, percent
from gradekit.design.constraints import DIGITS, Constraint
from gradekit.design.problem import Problem
from gradekit.design.smooth import Smooth

# In swings (by how much the element bounds can move a value): constraints that miss each other by
# less count as kept together. HiGHS keeps rows to 1e-7 of their own size.
_KEPT = 1e-7
# Starts of the smooth solver for each question of this kind, beside the linear answer.
_CORNERS = 2
# Nobody weighs, analyses or types finer than this, in the unit of any limit: a smaller move is said
# as one of this size.
_FINEST = 4
# A ratio's row turns with its bound; the step is repeated until the bound rests, some four times.
_TURNS = 20


@dataclass(frozen=True, eq=False)
class Conflict:
    """Why a brief cannot be met.

    Attributes
    ----------
    members : DataFrame, one row a constraint of the smallest infeasible set
        `bound`, `unit`, `guard band`, `origin`, and `frees at`: where its bound would have to be
        if everything else of the brief stayed (NaN: moving it alone does not help).
    relaxation : DataFrame
        `from`, `to`: the least change in all that frees the brief, measured by how far the
        element bounds can move each value.
    words : str
        All of it in sentences.
    proven : bool
        False where a smooth solver was needed: that it came to nothing is no proof.
    """

    members: pd.DataFrame
    relaxation: pd.DataFrame
    words: str
    proven: bool

    @property
    def summary(self) -> str:
        """What excludes each other, in one line."""
        if self.members.empty:
            return self.words
        return f"Clash{'' if self.proven else ', not proven'}: {', '.join(self.members.index)}."

    def pages(self) -> list[Part]:
        """The explanation in parts of a page: sentences, the way out, and what clashes."""
        members, moved = self.members, self.relaxation
        if len(members):  # as the words say it: a bound that frees, and is not the bound that is
            members = _readable(members, "bound", "frees at")
        if len(moved):
            moved = _readable(moved, "from", "to")
        members = table(members, "Take one away and the rest can be kept", wide=["origin"])
        return [
            self.words,
            table(moved, "The least change that frees it"),
            details("The smallest set that clashes", members),
        ]

    def _repr_html_(self) -> str:
        return panel(*self.pages(), lead=self.summary)


def conflict_of(problem: Problem) -> Conflict:
    """Explain a problem without an answer."""
    members, at = _infeasible(problem)
    if not members and problem.curved:
        words = "No composition came up, and no clash either: the smooth solver did not settle."
        return Conflict(pd.DataFrame(), pd.DataFrame(), words, False)
    flat = _laid_flat(problem, at)
    together = least_change(problem, flat)
    moved = [problem.constraints[i] for i in together]
    relaxation = pd.DataFrame(
        {"from": [c.bound for c in moved], "to": list(together.values()), "unit": _units(moved)},
        _labels(moved),
    )
    if not members:  # HiGHS and the least violation do not round alike
        words = f"The limits miss each other by a hair. {way_out(problem, together)}".strip()
        return Conflict(pd.DataFrame(), relaxation, words, False)
    alone = {i: flat.alone(i) for i in members}
    guards = problem.guards()
    guards[[*problem.curved, *problem.below]] = np.nan
    proven = not problem.moving_guards and not set(members) & set(problem.curved)
    clash = [problem.constraints[i] for i in members]
    columns = {
        "bound": [c.bound for c in clash],
        "unit": _units(clash),
        "guard band": guards[members],
        "frees at": list(alone.values()),
        "origin": [c.origin for c in clash],
    }
    words = _words(problem, guards, alone, together, proven)
    return Conflict(pd.DataFrame(columns, _labels(clash)), relaxation, words, proven)


def _labels(limits: list[Constraint]) -> pd.Index:
    return pd.Index([limit.label for limit in limits], name="limit")


def _units(limits: list[Constraint]) -> list[str]:
    return [limit.quantity.unit for limit in limits]


def _infeasible(problem: Problem) -> tuple[list[int], np.ndarray | None]:
    """Return a smallest set of constraints that cannot be kept together, and where it is nearest.

    Without any one of its members the others can be kept; it is empty where all can. The place is
    that of the smooth solver, None where it was not asked. Of nonlinear constraints the set is no
    proof: that no composition came up is none.
    """

    def feasible(members: list[int]) -> bool:
        return _least_violation(problem, members)[0] <= _KEPT

    everything = list(range(len(problem.constraints)))
    worst, blamed, at = _least_violation(problem, everything)
    if worst <= _KEPT:
        return [], at
    linear = [i for i in everything if i not in problem.curved]
    if problem.curved and not feasible(linear):
        everything = linear
        _, blamed, _ = _least_violation(problem, linear)
    return infeasible_set(everything if feasible(blamed) else blamed, feasible), at


def _least_violation(
    problem: Problem, members: list[int]
) -> tuple[float, list[int], np.ndarray | None]:
    """Return the least violation (in swings) of these constraints, which cause it, and where.

    The place is that of the smooth solver, None where it was not asked.
    """
    smooth = Smooth(problem.only(members))
    flat, at = _Flat(smooth, None), None
    worst = flat.least.total
    if worst <= _KEPT and smooth.problem.curved:
        best = smooth.any_kept(_CORNERS, flat.least.x)
        if best.kept:
            return 0.0, [], best.x
        worst, at = best.worst, best.x
        flat = _Flat(smooth, at)
    # constraints that give way or hold against it
    return worst, [i for i, blamed in zip(members, flat.least.blamed, strict=False) if blamed], at


class _Flat:
    """The constraints as rows, nonlinear ones laid flat at a point, and how they clash there."""

    def __init__(self, smooth: Smooth, at: np.ndarray | None):
        self.problem = problem = smooth.problem
        self.rows, self.ends = problem.straight() if at is None else problem.laid(at)
        count = len(problem.constraints)
        swing = smooth.swing(self.rows[:count])
        give = np.vstack([np.diag(swing), np.zeros((len(self.rows) - count, count))])
        self.least = relax(self.rows, self.ends, problem.low, problem.high, give)
        self.amounts = self.least.amounts * swing

    def alone(self, i: int) -> float:
        """Return the bound at which constraint i, moved alone, frees the others; else NaN."""
        problem, constraint = self.problem, self.problem.constraints[i]
        row, end, bound = self.rows[i], self.ends[i], constraint.bound
        room = (np.delete(self.rows, i, 0), np.delete(self.ends, i), problem.low, problem.high)
        for _ in range(_TURNS):
            best = minimise(row, *room)
            if not best.feasible:
                return np.nan
            amount = row @ best.x - end
            if i not in problem.below:
                return bound + constraint.sense * max(amount, 0.0)
            # A ratio: its row turns with its bound, so the step is repeated from the new bound.
            below, constant = problem.below[i]
            step = constraint.sense * amount / (below @ best.x + constant)
            bound += step
            row = row - constraint.sense * step * below
            end = end + constraint.sense * step * constant
            if abs(step) <= 1e-10 * max(1.0, abs(bound)):
                break
        return bound


def _laid_flat(problem: Problem, at: np.ndarray | None = None) -> _Flat:
    """All constraints as rows, nonlinear ones laid flat where the solver breaks them least."""
    smooth = Smooth(problem)
    if at is None and problem.curved:
        at = smooth.any_kept(_CORNERS).x
    return _Flat(smooth, at)


def least_change(problem: Problem, flat: _Flat | None = None) -> dict[int, float]:
    """Return the least relaxation of a problem without an answer: constraint to new bound.

    It is measured by how far the element bounds can move each value.
    """
    flat = flat or _laid_flat(problem)
    least, units = flat.least, problem.denominators(flat.least.x)
    # below 1e-9 it is what HiGHS leaves of a row; sums come first
    moved = np.flatnonzero(np.minimum(flat.amounts, least.amounts) > 1e-9).tolist()
    moved.sort(key=problem.curved.__contains__)
    return {i: problem.bound[i] + problem.sense[i] * flat.amounts[i] / units[i] for i in moved}


def _move(constraint: Constraint, to: float) -> str:
    """Say how a constraint would have to be moved."""
    if constraint.quantity.unit == "wt%" and to < 0:
        return f"'{constraint.words}' would have to go altogether"
    unit = f" {constraint.quantity.unit}".rstrip()
    step, there = _moved(constraint.bound, to)
    return f"'{constraint.words}' moved by {step}{unit} to {there}"


def _readable(rows: pd.DataFrame, bound: str, to: str) -> pd.DataFrame:
    there = [_moved(*pair)[1] for pair in zip(rows[bound], rows[to], strict=True)]
    return rows.assign(**{bound: [number(x, DIGITS) for x in rows[bound]], to: there})


def _moved(bound: float, to: float) -> tuple[str, str]:
    """Return step and new bound as they are read: rounded so that they still free, and never to 0.

    Examples
    --------
    >>> _moved(25.0, 21.25), _moved(0.05, 0.0500000003), _moved(19.0, 18.98765)
    (('3.75', '21.25'), ('0.0001', '0.0501'), ('0.0124', '18.9876'))
    """
    if not np.isfinite(to):
        return number(to), number(to)
    size = abs(to - bound)
    places = int(np.clip(2 - np.floor(np.log10(max(size, 1e-12))), 0, _FINEST))
    # the last digit goes up unless it is whole but for the last bits of the arithmetic
    step = max(np.ceil(size * 10**places - 1e-6), 1.0) / 10**places
    there = bound + step if to >= bound else bound - step
    digits = [number(x, max(4, len(f"{abs(x):.0f}") + places)) for x in (step, there)]
    return digits[0], digits[1]


def way_out(problem: Problem, together: Mapping[int, float]) -> str:
    """Say what the least change is that frees a brief, '' where none is known."""
    moves = [_move(problem.constraints[i], to) for i, to in together.items()]
    return f"The least change in all: {'; and '.join(moves)}." if moves else ""


def _words(
    problem: Problem,
    guards: np.ndarray,
    alone: Mapping[int, float],
    together: Mapping[int, float],
    proven: bool,
) -> str:
    """Explain why a brief cannot be met.

    Parameters
    ----------
    problem : Problem
    guards : array, one a constraint
        NaN for those that are no sums.
    alone : mapping of member of the smallest set to bound
        Where its bound would have to be; NaN where moving this one alone does not free the brief.
    together : mapping of constraint to bound
        The least change in all.
    proven : bool
    """
    members = [problem.constraints[i] for i in alone]
    start = "These cannot be kept together" if len(members) > 1 else "This cannot be kept"
    sure = "" if proven else " as far as the smooth solver can tell"
    parts = [f"{start}{sure}: {'; '.join(f'{c.words} ({c.origin})' for c in members)}."]
    parts += _eaten(problem, list(alone), guards)
    moves = [_move(problem.constraints[i], to) for i, to in alone.items() if not np.isnan(to)]
    if moves:
        start = "This alone frees the brief" if len(moves) == 1 else "Any one of these frees it"
        parts.append(f"{start}: {'; or '.join(moves)}.")
    parts.append(way_out(problem, together))
    certain = most_certain(problem) if problem.z or problem.reach else None
    if certain is not None:
        parts.append(_out_of_reach(problem, certain))
        if met_without_errors(problem):
            parts.append(
                "With the published errors left out of the guard bands (relation_error=False) it "
                "could be met, for the scatter of heats alone: the errors are those of the "
                "relations, and a trial heat tells how far they are off for this steel."
            )
    return " ".join(filter(None, parts))


def _out_of_reach(problem: Problem, certain: float) -> str:
    """Say what puts a brief out of reach that could be met without guard bands."""
    from scipy.special import ndtr

    asked = float(ndtr(problem.z))
    if certain < asked - 5e-4:
        return (
            "Without guard bands it could be met: it is the certainty that is out of reach; "
            f"the most that can be had is {percent(certain)} a limit."
        )
    if problem.reach:
        return (
            f"Each limit could be kept by {percent(asked)} of heats: it is the window that does "
            f"not fit, {number(problem.reach)} times the standard deviation of each element to "
            "either side; "
            "window_sd= asks for a narrower one."
        )
    return (
        f"Each limit by itself could be kept by {percent(asked)} of heats, but not all of them "
        "together."
    )


def _eaten(problem: Problem, members: list[int], guards: np.ndarray) -> list[str]:
    """Say where the guard bands from both ends of a quantity leave nothing between its limits."""
    lines = []
    for i, j in combinations(members, 2):
        low, high = sorted((i, j), key=lambda k: problem.constraints[k].sense)
        least, most = problem.constraints[low], problem.constraints[high]
        if least.quantity.key != most.quantity.key or least.sense == most.sense:
            continue
        apart, needed = most.bound - least.bound, guards[low] + guards[high]
        if not 0 <= apart < needed:  # nor where a band is not known
            continue
        unit = f" {least.quantity.unit}".rstrip()
        line = (
            f"Of the {number(apart, 3)}{unit} between the limits of {least.quantity.key} the guard "
            f"bands leave nothing: they take {number(guards[low], 3)}{unit} at the lower and "
            f"{number(guards[high], 3)}{unit} at the upper end"
        )
        if least.error or most.error:
            errors = problem.z * (least.error + most.error)
            line += f", {number(errors, 3)}{unit} in all for its published error alone"
        lines.append(f"{line}. Limits {number(needed, 3)}{unit} apart would leave a single value.")
    return lines
