"""A brief as numbers: one row a constraint, kept apart from what solves it.

Every constraint reads value <= bound (or >=), and is kept with a guard band of z sqrt(a'Sa + s^2):
a is the slope of the value in the contents, S the covariance of heats and their analysis, s the
published error of the relation.
Linear constraints and ratios of sums become rows A x <= b; the rest is left to the smooth solver.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from gradekit.core.elements import is_element
from gradekit.core.errors import NOTHING, InputError
from gradekit.core.linear import Expression, Ratio, Sum
from gradekit.core.programme import BrokenLine
from gradekit.design.brief import Brief, objective
from gradekit.design.constraints import Constraint, constraints_of
from gradekit.design.costing import Total
from gradekit.design.prices import COST, FOOTPRINT, NICKEL, Prices, nickel_content
from gradekit.design.quantities import Quantity, form_of
from gradekit.heats.scatter import Scatter
from gradekit.relations.declaration import Relation
from gradekit.works.melt.making import MakingCost

# Sums below this are no denominators.
_TINY = 1e-6


@dataclass(eq=False)
class Problem:
    """The numbers behind a brief.

    Attributes
    ----------
    variables : tuple of element symbols, in the order of all arrays
    constraints : list of Constraint
    rows, ends : arrays, shape (linear constraints, variables) and (linear constraints,)
        rows @ x <= ends without guard bands.
    linear, curved : lists of int
        Which constraints are rows, and which need the smooth solver.
    covariance : array, shape (variables, variables)
        From heat to heat, with the analysis in it.
    laboratory : array, shape (variables,)
        Standard deviation of one analysis.
    z : float
        Standard deviations of guard; 0 without.
    reach : float
        Half-width in standard deviations of the window that has to fit around the aim.
    widen : float
        By how much the scatter counts more than once, so that all limits are kept together.
    making : list of MakingCost
        What contents cost in the making, where prices tell; part of the aim where that is cost.
    unpriced : list of str
        What of it is not known.
    low, high : arrays
        What no constraint may leave: 0 and 100 wt%, or a fixed content.
    """

    brief: Brief
    variables: tuple[str, ...]
    constraints: list[Constraint]
    aim: Quantity
    conditions: Mapping[str, float]
    covariance: np.ndarray
    laboratory: np.ndarray
    z: float
    low: np.ndarray
    high: np.ndarray
    notes: list[str] = field(default_factory=list)
    reach: float = 0.0
    widen: float = 1.0
    making: list[MakingCost] = field(default_factory=list)
    unpriced: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.index = {e: i for i, e in enumerate(self.variables)}
        self.linear = [i for i, d in enumerate(self.constraints) if d.form is not None]
        self.curved = [i for i, d in enumerate(self.constraints) if d.form is None]
        size = len(self.variables)
        self.rows = np.zeros((len(self.linear), size))
        self.ends = np.zeros(len(self.linear))
        self.below: dict[int, tuple[np.ndarray, float]] = {}
        for k, i in enumerate(self.linear):
            constraint = self.constraints[i]
            form = constraint.form
            line: Expression | None
            if isinstance(form, Ratio):
                # (above / below) <= r is above - r below <= 0 where the sum below is positive.
                row, constant = form.below.row(self.index)
                self.below[k] = row, constant
                line, bound = form.above - form.below * constraint.bound, 0.0
            else:
                line, bound = form, constraint.bound
            assert isinstance(line, Sum)
            row, constant = line.row(self.index)
            self.rows[k] = constraint.sense * row
            self.ends[k] = constraint.sense * (bound - constant)
        self.hard_rows, self.hard_ends = self._hard()
        self.errors = np.array([self.constraints[i].error for i in self.linear])
        self.guarded = np.array([self.constraints[i].guarded for i in self.linear], dtype=float)
        self.sd = np.sqrt(np.diag(self.covariance))

    def _hard(self) -> tuple[np.ndarray, np.ndarray]:
        """Rows that hold whatever is demanded: iron is left, denominators are positive."""
        rows, ends = [np.ones(len(self.variables))], [100.0]
        for row, constant in self.below.values():
            least = constant + np.minimum(row * self.low, row * self.high).sum()
            if least < _TINY:
                rows.append(-row)
                ends.append(constant - _TINY)
        return np.array(rows), np.array(ends)

    @cached_property
    def aim_form(self) -> Sum | None:
        """The objective as a sum, its broken lines left out, or None where it is none."""
        if isinstance(self.aim, Total) and self.aim.alloys is not None:
            form = form_of(self.aim.alloys, self.conditions)
        else:
            form = self.aim.form(self.conditions)
        return form if isinstance(form, Sum) else None

    @cached_property
    def lines(self) -> list[tuple[int, BrokenLine]]:
        """What comes to the sum of the objective, each with the place of its variable."""
        making = self.aim.making if isinstance(self.aim, Total) else ()
        return [(self.index[part.element], part.line) for part in making]

    def still(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Between which contents no broken line of the objective changes its slope."""
        low, high = self.low.copy(), self.high.copy()
        for at, line in self.lines:
            first, last = line.piece(x[at])
            low[at], high[at] = max(low[at], first), min(high[at], last)
        return low, high

    @cached_property
    def aim_row(self) -> tuple[np.ndarray, float]:
        """Coefficients and constant of the objective; NaN where it is no sum."""
        if self.aim_form is None:
            return np.full(len(self.variables), np.nan), np.nan
        return self.aim_form.row(self.index)

    def heat_sd(self, rows: np.ndarray) -> np.ndarray:
        """Standard deviation from heat to heat of values with these slopes."""
        return np.sqrt(np.maximum(((rows @ self.covariance) * rows).sum(axis=1), 0.0))

    def bands(self, rows: np.ndarray, error: np.ndarray) -> np.ndarray:
        """Guard bands of values with these slopes and published errors."""
        both = self.z * np.hypot(self.widen * self.heat_sd(rows), error)
        if not self.reach:
            return both
        return np.maximum(both, self.reach * (np.abs(rows) @ self.sd) + self.reserve(rows, error))

    def reserve(self, rows: np.ndarray, error: np.ndarray) -> np.ndarray:
        """The part of the guard bands that a window may not use.

        What the published error asks for beyond the scatter of heats, and at least what one
        analysis may hide.
        """
        heat, lab = self.heat_sd(rows), np.linalg.norm(rows * self.laboratory, axis=1)
        own = np.sqrt(np.maximum(heat**2 - lab**2, 0.0))
        return self.z * np.maximum(np.hypot(heat, error) - own, lab)

    def box(self, lines: Iterable[int] | None = None) -> tuple[np.ndarray, np.ndarray]:
        """What the constraints on single elements leave, their guard bands left out."""
        low, high = self.low.copy(), self.high.copy()
        count = (self.rows != 0).sum(axis=1)
        for k in range(len(self.rows)) if lines is None else lines:
            if count[k] == 1:
                at = int(np.argmax(self.rows[k] != 0))
                end = self.ends[k] / self.rows[k, at]
                if self.rows[k, at] > 0:
                    high[at] = min(high[at], end)
                else:
                    low[at] = max(low[at], end)
        return low, np.maximum(low, high)

    def denominators(self, x: np.ndarray | None) -> np.ndarray:
        """What one unit of the quantity is in units of its row: 1, or the sum below a ratio.

        Without a composition the sum below is taken in the middle of what the elements may be.
        """
        scale = np.ones(len(self.linear))
        if self.below:
            at = np.mean(self.box(), axis=0) if x is None else x
            for k, (row, constant) in self.below.items():
                scale[k] = max(row @ at + constant, _TINY)
        return scale

    def guards(self, x: np.ndarray | None = None) -> np.ndarray:
        """Return the guard band of each row, in units of the row."""
        if not self.z and not self.reach:
            return np.zeros(len(self.linear))
        return self.guarded * self.bands(self.rows, self.errors * self.denominators(x))

    @property
    def moving_guards(self) -> bool:
        """True where a guard band depends on the composition: a ratio with an error."""
        return bool(self.z) and any(self.errors[k] for k in self.below)

    # --- values ------------------------------------------------------------------------------

    def space(self, x: np.ndarray) -> dict[str, np.ndarray | float]:
        """Return contents by name for points of shape (points, variables)."""
        columns = np.ascontiguousarray(x.T)
        space: dict = {e: np.float64(0.0) for e in self.absent}
        space |= dict(zip(self.variables, columns, strict=True))
        space["Fe"] = 100.0 - columns.sum(axis=0)
        return space | {c: np.float64(v) for c, v in self.conditions.items()}

    @cached_property
    def absent(self) -> list[str]:
        """Elements that relations ask for and the brief does not use: none of them is there."""
        quantities = [self.aim, *(d.quantity for d in self.constraints)]
        names = dict.fromkeys(n for q in quantities for n in q.inputs)
        return [n for n in names if is_element(n) and n not in self.index and n != "Fe"]

    def raw(self, quantities: Iterable[Quantity], x: np.ndarray) -> np.ndarray:
        """Return values of the bare formulas, shape (quantities, points)."""
        asked = list(quantities)
        gone = {n for q in asked for n in q.inputs if is_element(n)}  # an aim of its own asks more
        space = dict.fromkeys(gone, np.float64(0.0)) | self.space(x)
        with np.errstate(all="ignore"):
            rows = [np.broadcast_to(q.raw(space), len(x)) for q in asked]
        return np.array(rows).reshape(len(rows), len(x))

    def full(self, x: np.ndarray) -> np.ndarray:
        """Return what the relations say of each constraint, shape (constraints, points)."""
        from gradekit.relations.plan import plan_for

        used = (d.quantity for d in self.constraints if d.kind not in ("range", "family"))
        relations = {r.name: r for quantity in used for r in quantity.named.values()}
        values: dict[str, np.ndarray] = {}
        if relations:
            conditions = {c: np.asarray(v) for c, v in self.conditions.items()}
            plan = plan_for(tuple(relations.values()))
            columns = {e: i for i, e in enumerate(self.variables)}
            results, _ = plan.run(x, columns, conditions, {})
            values = dict(zip(relations, results, strict=True))
        space = self.space(x)
        with np.errstate(all="ignore"):
            # Whether a relation holds, and what it votes, is judged before the end of its scale
            # hides the value.
            rows = [
                d.quantity.raw(space)
                if d.kind in ("range", "family")
                else d.quantity.combine(space, values)
                for d in self.constraints
            ]
            rows = [np.broadcast_to(row, len(x)) for row in rows]
        return np.array(rows).reshape(len(self.constraints), len(x))


def build(
    brief: Brief,
    prices: Prices | None = None,
    scatter: Scatter | None = None,
    z: float = 0.0,
    relation_error: bool = True,
    reach: float = 0.0,
    which: int = 0,
) -> Problem:
    """Turn a brief into numbers.

    Parameters
    ----------
    brief : Brief
    prices : Prices, optional
        Needed where cost or footprint is limited or minimised.
    scatter : Scatter, optional
    z : float
        Standard deviations of guard.
    relation_error : bool
        Whether the published errors are part of the guard.
    reach : float
        Half-width of the window that has to fit, in standard deviations.
    which : int
        Which of two objectives is minimised.
    """
    priced: dict[str, Relation] = {NICKEL: nickel_content()}
    if prices is not None:
        priced |= prices.relations
    constraints, notes = constraints_of(brief, priced, z > 0 and relation_error, z > 0)
    several = isinstance(brief.minimise, (list, tuple))
    aim = objective(brief.minimise[which] if several else brief.minimise, priced)
    making, unpriced = prices.making(_middle(brief)) if prices is not None else ([], [])
    making = [part for part in making if part.element in brief.variables]
    if prices is not None and aim.key == COST and making:
        aim = Total.of(prices.cost, making)
    _need_prices([aim, *(d.quantity for d in constraints)], prices, brief.variables)
    low, high = np.zeros(len(brief.variables)), np.full(len(brief.variables), 100.0)
    for i, element in enumerate(brief.variables):
        first, last = brief.bounds.get(element, (None, None))
        if first is not None and first == last:
            low[i] = high[i] = first
    size = len(brief.variables)
    covariance = scatter.total(list(brief.variables)) if scatter else np.zeros((size, size))
    laboratory = np.zeros(size)
    if scatter:
        laboratory = scatter.analysis.reindex(list(brief.variables)).fillna(0.0).to_numpy()
        known = set(scatter.elements)  # each look at them makes them anew
        blank = [e for e in brief.variables if e not in known]
        if blank:
            notes.append(f"no scatter is known for {', '.join(blank)}: taken as hit exactly")
    return Problem(
        brief,
        brief.variables,
        constraints,
        aim,
        brief.conditions,
        covariance,
        laboratory,
        z,
        low,
        high,
        notes,
        reach if scatter else 0.0,
        making=making,
        unpriced=unpriced,
    )


def _middle(brief: Brief) -> dict[str, float]:
    """The middle of what the brief leaves each element; its lower end where the other is open."""
    return {e: low if high == 100.0 else 0.5 * (low + high) for e, (low, high) in brief.box.items()}


def _need_prices(
    quantities: list[Quantity], prices: Prices | None, variables: tuple[str, ...]
) -> None:
    asked = {n for q in quantities for n in (*q.awaited, *q.named)} & {COST, FOOTPRINT}
    if not asked:
        return
    if prices is None:
        raise InputError(
            "prices",
            f"given, because the brief speaks of {', '.join(sorted(asked))}",
            NOTHING,
            "prices='data/element_prices.csv'",
        )
    if COST in asked:
        unpriced = [e for e in variables if e not in prices.table.index]
        if unpriced:
            raise InputError(
                "price list",
                f"one that has {', '.join(unpriced)}, which the brief uses",
                list(prices.table.index),
            )
