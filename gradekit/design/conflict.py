"""Why a brief cannot be met: a smallest infeasible set, what would free it, in words and tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
import pandas as pd

from gradekit.core.markup import Part, details, number, panel, table
from gradekit.core.programme import infeasible_set, minimise, relax
from gradekit.design.certainty import met_without_errors, most_certain, percent
from gradekit.design.constraints import DIGITS, Constraint
from gradekit.design.problem import Problem
from gradekit.design.smooth import Smooth, starts

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


@dataclass
class InfeasibleSet:
    """A smallest set of constraints that cannot be kept together.

    Attributes
    ----------
    members : list of int
        Without any one of them the others can be kept.
    alone : mapping of member to bound
        Where the bound of this constraint would have to be, all others of the brief kept; None
        where moving this one alone does not free the brief.
    together : mapping of constraint to bound
        The least relaxation, measured by how far the element bounds can move each value.
    ratios : list of int
        Members that are ratios of sums.
    proven : bool
        False where nonlinear constraints take part: that no composition came up is no proof.
    """

    members: list[int]
    alone: dict[int, float | None] = field(default_factory=dict)
    together: dict[int, float] = field(default_factory=dict)
    ratios: list[int] = field(default_factory=list)
    proven: bool = True


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
    clash = _find(problem)
    if clash is None and problem.curved:
        words = "No composition came up, and no clash either: the smooth solver did not settle."
        return Conflict(pd.DataFrame(), pd.DataFrame(), words, False)
    if clash is None:  # HiGHS and the least violation do not round alike
        together = least_change(problem)
        words = f"The limits miss each other by a hair. {way_out(problem, together)}".strip()
        return Conflict(pd.DataFrame(), _relaxation(problem, together), words, False)
    rows = {}
    for i in clash.members:
        constraint = problem.constraints[i]
        guard = problem.guards()[problem.linear.index(i)] if i in problem.linear else np.nan
        rows[constraint.label] = {
            "bound": constraint.bound,
            "unit": constraint.quantity.unit,
            "guard band": np.nan if i in clash.ratios else guard,
            "frees at": np.nan if clash.alone[i] is None else clash.alone[i],
            "origin": constraint.origin,
        }
    certain = most_certain(problem) if problem.z or problem.reach else None
    return Conflict(
        pd.DataFrame(list(rows.values()), index=pd.Index(rows, name="limit")),
        _relaxation(problem, clash.together),
        _words(problem, clash, certain, certain is not None and met_without_errors(problem)),
        clash.proven,
    )


def _relaxation(problem: Problem, together: Mapping[int, float]) -> pd.DataFrame:
    moved = {}
    for i, to in together.items():
        constraint = problem.constraints[i]
        unit = constraint.quantity.unit
        moved[constraint.label] = {"from": constraint.bound, "to": to, "unit": unit}
    return pd.DataFrame(list(moved.values()), index=pd.Index(moved, name="limit"))


def _find(problem: Problem) -> InfeasibleSet | None:
    """Return why a problem has no answer, or None if it has one."""

    def feasible(members: list[int]) -> bool:
        return _least_violation(problem, members)[0] <= _KEPT

    everything = list(range(len(problem.constraints)))
    worst, blamed, at = _least_violation(problem, everything)
    if worst <= _KEPT:
        return None
    if problem.curved and not feasible(problem.linear):
        everything = problem.linear
        worst, blamed, _ = _least_violation(problem, everything)
    members = infeasible_set(everything if feasible(blamed) else blamed, feasible)
    curved = any(i in problem.curved for i in members)
    ratios = [
        i for i in members if i in problem.linear and problem.linear.index(i) in problem.below
    ]
    clash = InfeasibleSet(members, ratios=ratios, proven=not curved and not problem.moving_guards)
    flat = _flat_everywhere(problem, at)
    clash.together = least_change(problem, flat)
    clash.alone = {i: flat.alone(i) for i in clash.members}
    return clash


def _least_violation(
    problem: Problem, members: list[int]
) -> tuple[float, list[int], np.ndarray | None]:
    """Return the least violation (in swings) of these constraints, which cause it, and where.

    The place is that of the smooth solver, None where it was not asked.
    """
    active = np.zeros(len(problem.constraints), bool)
    active[members] = True
    smooth = Smooth(problem, active=active)
    flat = _Flat(problem, smooth, None)
    if flat.least.total > _KEPT or not smooth.curves:
        return flat.least.total, flat.blamed, None
    best = smooth.any_kept([flat.least.x, *starts(smooth, _CORNERS)])
    if best.kept:
        return 0.0, [], best.x
    return best.worst, _Flat(problem, smooth, best.x).blamed, best.x


class _Flat:
    """Active constraints as rows, nonlinear ones laid flat at a point, then what holds anyway."""

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
        swing = np.maximum(np.abs(rows[: len(owner)]) @ smooth.span, 1e-9)
        give = np.vstack([np.diag(swing), np.zeros((len(rows) - len(owner), len(owner)))])
        self.least = relax(rows, ends, problem.low, problem.high, give)
        self.amounts = self.least.amounts * swing

    @property
    def blamed(self) -> list[int]:
        """Constraints that give way or hold against it."""
        return [i for i, b in zip(self.owner, self.least.blamed, strict=False) if b]

    def alone(self, i: int) -> float | None:
        """Return the bound at which constraint i, moved alone, lets all the others be kept."""
        k = self.owner.index(i)
        constraint, problem = self.problem.constraints[i], self.problem
        line = self.line.get(i)
        below = problem.below.get(line) if line is not None else None
        others = np.delete(np.arange(len(self.rows)), k)
        rows, ends = self.rows[others], self.ends[others]
        row, end, bound = self.rows[k], self.ends[k], constraint.bound
        for _ in range(_TURNS):
            best = minimise(row, rows, ends, problem.low, problem.high)
            if not best.feasible:
                return None
            amount = row @ best.x - end
            if below is None:
                return bound + constraint.sense * max(amount, 0.0)
            # A ratio: its row turns with its bound, so the step is repeated from the new bound.
            step = constraint.sense * amount / (below[0] @ best.x + below[1])
            bound += step
            row = row - constraint.sense * step * below[0]
            end = end + constraint.sense * step * below[1]
            if abs(step) <= 1e-10 * max(1.0, abs(bound)):
                break
        return bound


def _flat_everywhere(problem: Problem, at: np.ndarray | None = None) -> _Flat:
    """All constraints as rows, nonlinear ones laid flat where the solver breaks them least."""
    smooth = Smooth(problem)
    if at is None and smooth.curves:
        at = smooth.any_kept(starts(smooth, _CORNERS)).x
    return _Flat(problem, smooth, at)


def least_change(problem: Problem, flat: _Flat | None = None) -> dict[int, float]:
    """Return the least relaxation of a problem without an answer: constraint to new bound."""
    flat = flat or _flat_everywhere(problem)
    moved = {}
    for i, amount, swings in zip(flat.owner, flat.amounts, flat.least.amounts, strict=True):
        if min(amount, swings) > 1e-9:  # else it is what HiGHS leaves of a row
            constraint = problem.constraints[i]
            below = problem.below.get(flat.line.get(i, -1))
            unit = below[0] @ flat.least.x + below[1] if below else 1.0
            moved[i] = constraint.bound + constraint.sense * amount / unit
    return moved


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
    problem: Problem, clash: InfeasibleSet, certain: float | None, errors_decide: bool = False
) -> str:
    """Explain why a brief cannot be met.

    Parameters
    ----------
    problem : Problem
    clash : Clash
    certain : float or None
        The most confidence that each limit could be kept with.
    errors_decide : bool
        Whether it could be met with the published errors left out.
    """
    names = [
        f"{problem.constraints[i].words} ({problem.constraints[i].origin})" for i in clash.members
    ]
    start = "These cannot be kept together" if len(names) > 1 else "This cannot be kept"
    sure = "" if clash.proven else " as far as the smooth solver can tell"
    text = f"{start}{sure}: {'; '.join(names)}."
    text += "".join(f" {line}" for line in _eaten(problem, clash))
    alone = [_move(problem.constraints[i], to) for i, to in clash.alone.items() if to is not None]
    if alone:
        start = "This alone frees the brief" if len(alone) == 1 else "Any one of these frees it"
        text += f" {start}: {'; or '.join(alone)}."
    if clash.together:
        text += f" {way_out(problem, clash.together)}"
    if certain is not None:
        text += _out_of_reach(problem, certain)
    if errors_decide:
        text += (
            " With the published errors left out of the guard bands (relation_error=False) it "
            "could be met, for the scatter of heats alone: the errors are those of the relations, "
            "and a trial heat tells how far they are off for this steel."
        )
    return text


def _out_of_reach(problem: Problem, certain: float) -> str:
    """Say what puts a brief out of reach that could be met without guard bands."""
    from scipy.special import ndtr

    asked = float(ndtr(problem.z))
    if certain < asked - 5e-4:
        return (
            " Without guard bands it could be met: it is the certainty that is out of reach; "
            f"the most that can be had is {percent(certain)} a limit."
        )
    if problem.reach:
        return (
            f" Each limit could be kept by {percent(asked)} of heats: it is the window that does "
            f"not fit, {number(problem.reach)} times the standard deviation of each element to "
            "either side; "
            "window_sd= asks for a narrower one."
        )
    return (
        f" Each limit by itself could be kept by {percent(asked)} of heats, but not all of them "
        "together."
    )


def _eaten(problem: Problem, clash: InfeasibleSet) -> list[str]:
    """Say where the guard bands from both ends of a quantity leave nothing between its limits."""
    guards = dict(zip(problem.linear, problem.guards(), strict=True))
    lines = []
    ends = [i for i in clash.members if i in guards and i not in clash.ratios]
    for i, j in combinations(ends, 2):
        low, high = sorted((i, j), key=lambda k: problem.constraints[k].sense)
        least, most = problem.constraints[low], problem.constraints[high]
        if least.quantity.key != most.quantity.key or least.sense == most.sense:
            continue
        apart, needed = most.bound - least.bound, guards[low] + guards[high]
        if not 0 <= apart < needed:
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
